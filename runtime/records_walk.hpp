// A record's JSON, walked once on demand, with all that goes wrong on the way: where the reader is, what
// spoils the record, what is set aside, which keys nobody knows. Knows JSON and nothing of episodes. Internal
// to the record readers.
#pragma once

#include <simdjson.h>

#include <array>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/records.hpp"
#include "runtime/records_plan.hpp"

namespace linelaw::runtime::records {

namespace json = simdjson::ondemand;

// Where the reader is. Holds views only, and becomes a JSON pointer when something is wrong.
class Path {
  public:
    void push(std::string_view key) { push(Part{key, 0}); }
    void push(std::uint32_t index) { push(Part{{}, index}); }
    void pop() { --size_; }
    void clear() { size_ = 0; }
    std::string pointer() const;  // to at most as many parts as any value that is read has

  private:
    struct Part {
        std::string_view key;  // no data: an index
        std::uint32_t index = 0;
    };
    void push(Part part) {
        if (size_ < parts_.size()) parts_[size_] = part;
        ++size_;
    }
    std::array<Part, 8> parts_;
    std::size_t size_ = 0;
};

// Functions that answer bool answer false once the record is spoiled; `spoiled` then says why.
class Walk {
  public:
    static constexpr std::size_t deepest_nesting = 64;

    Walk(std::size_t slots, ReaderOptions options) : options_(options), seen_slots_(slots) {}

    // Hands the object that `text` is to `read`, and spoils the record where the text is not one JSON object.
    // Afterwards `text()` is what was read, until the next call.
    template <class Read>
    bool object(std::string_view text, std::vector<Spoiled>& set_aside, const Read& read);
    std::string_view text() const { return {buffer_.data(), size_}; }

    // Calls read(key, value) for each key or item, with it on the path; `read` must use the value or `ignore`
    // it.
    template <class Read>
    bool each_key(json::object& object, const Read& read);
    template <class Read>
    bool each_item(json::array& array, const Read& read);

    bool ok(simdjson::error_code error) { return error == simdjson::SUCCESS || broken(error); }
    bool is_null(json::value& value, bool& null);
    bool string(json::value& value, std::string_view& out) { return ok(value.get_string().get(out)); }
    // Steps over a text that was read before: one left unread would take what follows it for its own.
    bool pass_string(json::value& value) { return ok(value.get_raw_json_string().error()); }
    bool type_of(json::value& value, json::json_type& out) { return ok(value.type().get(out)); }
    // Visits a value that nobody reads: it must be valid JSON all the same.
    bool ignore(json::value& value, std::size_t depth = 0);
    std::uint64_t offset_of(json::value& value) const;
    std::uint64_t offset();  // of the next token

    // A key of this object (from new_object) that is read must not come twice.
    std::uint64_t new_object() { return ++last_object_; }
    bool once(std::uint64_t object, std::uint32_t key);

    bool spoil(const char* code, std::uint64_t offset, std::string reason);
    bool spoil_at(std::string pointer, const char* code, std::uint64_t offset, std::string reason);
    void set_aside(const char* code, std::uint64_t offset, std::string reason);
    void set_aside_at(std::string pointer, const char* code, std::uint64_t offset, std::string reason);
    std::vector<Spoiled>& all_set_aside() { return *set_aside_; }
    std::unique_ptr<Spoiled> take_spoiled() { return std::move(spoiled_); }

    void unknown_key(std::string_view where, std::string_view key);
    void unknown_event(std::string_view type);

    Path path;
    ReadCounts counts;

  private:
    bool broken(simdjson::error_code error);
    bool key_of(json::field& field, std::string_view& key);

    ReaderOptions options_;
    simdjson::ondemand::parser parser_;
    json::document document_;
    bool in_document_ = false;  // the text passed the parser's first look; only then has it places
    std::vector<char> buffer_;  // the text, padded
    std::size_t size_ = 0;
    std::vector<Spoiled>* set_aside_ = nullptr;
    std::unique_ptr<Spoiled> spoiled_;
    // The object in which a key stood last.
    std::vector<std::uint64_t> seen_slots_;
    std::array<std::uint64_t, key_end - key_first> seen_keys_{};
    std::uint64_t last_object_ = 0;

    bool load(std::string_view text);
    bool at_end();
};

// Puts a key or an index on the path for as long as it lives.
class On {
  public:
    template <class Part>
    On(Walk& walk, Part part) : walk_(walk) {
        walk_.path.push(part);
    }
    ~On() { walk_.path.pop(); }
    On(const On&) = delete;
    On& operator=(const On&) = delete;

  private:
    Walk& walk_;
};

template <class Read>
bool Walk::object(std::string_view text, std::vector<Spoiled>& set_aside, const Read& read) {
    set_aside_ = &set_aside;
    set_aside.clear();
    spoiled_.reset();
    path.clear();
    json::object object;
    // What is left of an earlier text must not be asked where it is: the parser may have let go of it.
    in_document_ = false;
    if (!load(text)) return false;
    if (!ok(parser_.iterate(buffer_.data(), size_, buffer_.size()).get(document_))) return false;
    in_document_ = true;
    if (!ok(document_.get_object().get(object))) return false;
    return read(object) && at_end();
}

template <class Read>
bool Walk::each_key(json::object& object, const Read& read) {
    for (auto result : object) {
        std::string_view key;
        if (!ok(result.error())) return false;
        json::field& field = result.value_unsafe();  // not copied: reading would wait for it
        if (!key_of(field, key)) return false;
        const On on(*this, key);
        if (!read(key, field.value())) return false;
    }
    return true;
}

template <class Read>
bool Walk::each_item(json::array& array, const Read& read) {
    std::uint32_t index = 0;
    for (auto result : array) {
        if (!ok(result.error())) return false;
        const On on(*this, index++);
        if (!read(result.value_unsafe())) return false;
    }
    return true;
}

}  // namespace linelaw::runtime::records
