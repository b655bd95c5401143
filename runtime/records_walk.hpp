// A record's JSON, walked once from token to token, with all that goes wrong on the way: where the reader is,
// what spoils the record, what is set aside, which keys nobody knows. Where tokens begin, that texts are
// closed and that all is UTF-8 says simdjson (its first stage); that the tokens make JSON is seen here, in
// walking. Knows JSON and nothing of episodes. Internal to the record readers.
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

// Where the reader is: in objects and lists, at a key or an index of each. Becomes a JSON pointer when
// something is wrong.
class Path {
  public:
    void clear() { size_ = 0; }
    // An object or a list, in which the reader then stands at one place after another.
    void open() { ++size_; }
    void close() { --size_; }
    void at_key(std::uint32_t offset) { stand_at({offset, none}); }  // of its quotation mark in the text
    void at_index(std::uint32_t index) { stand_at({0, index}); }
    // To at most as many parts as any value that is read has.
    std::string pointer(std::string_view text) const;

  private:
    struct Part {
        std::uint32_t key = 0;
        std::uint32_t index = none;  // `none`: at a key
    };
    void stand_at(Part part) { parts_[size_ <= deepest ? size_ : deepest + 1] = part; }
    static constexpr std::size_t deepest = 8;
    std::array<Part, deepest + 2> parts_;  // the first is never used, the last is for all that is deeper
    std::size_t size_ = 0;
};

// Functions that answer bool answer false once the record is spoiled; `take_spoiled` then says why. Those
// that take a value leave the walk behind it.
class Walk {
  public:
    static constexpr std::size_t deepest_nesting = 64;

    Walk(std::size_t slots, ReaderOptions options);

    // Calls `read` at the object that `text` is, and spoils the record where the text is not one JSON object.
    // Afterwards `text()` is what was read, until the next call.
    template <class Read>
    bool object(std::string_view text, std::vector<Spoiled>& set_aside, const Read& read);
    std::string_view text() const { return {text_, size_}; }

    // What stands here, by its first byte: whether it is whole is seen when it is taken.
    bool at_object() const { return peek() == '{'; }
    bool at_list() const { return peek() == '['; }
    bool at_text() const { return peek() == '"'; }
    bool at_flag() const { return peek() == 't' || peek() == 'f'; }
    bool at_null() const { return peek() == 'n'; }
    bool at_number() const { return peek() == '-' || (peek() >= '0' && peek() <= '9'); }
    std::uint64_t offset() const { return *token_; }

    // Calls read(key), or read(index), at each value, with it on the path; `read` must take the value. Where
    // the keys are known, calls read(key, number), of which the number may be `none`.
    template <class Read>
    bool each_key(const Read& read);
    template <class Read>
    bool each_key(NameTable& known, const Read& read);
    template <class Read>
    bool each_item(const Read& read);

    // A text or a key of the record: its bytes last until the next record, and `room_behind` more may be
    // read.
    static constexpr std::size_t room_behind = simdjson::SIMDJSON_PADDING;
    bool text_value(std::string_view& out);
    bool number(double& out);
    bool flag(bool& out);
    bool null_value();
    bool ignore(std::size_t depth = 0);  // a value that nobody reads: it must be valid JSON all the same

    // The value of a key of the object that begins here, where it is a text, without leaving the place.
    // False where there is none, or where what is before it is no JSON.
    bool look_ahead(std::string_view key, std::string_view& text);

    // A key of this object (from new_object) that is read must not come twice.
    std::uint64_t new_object() { return ++last_object_; }
    bool once(std::uint64_t object, std::uint32_t key) {
        std::uint64_t& seen = key >= key_first ? seen_keys_[key - key_first] : seen_slots_[key];
        if (seen == object) return twice();
        seen = object;
        return true;
    }

    bool spoil(const char* code, std::uint64_t offset, std::string reason);
    bool spoil_at(std::string pointer, const char* code, std::uint64_t offset, std::string reason);
    void set_aside(const char* code, std::uint64_t offset, std::string reason);
    void set_aside_at(std::string pointer, const char* code, std::uint64_t offset, std::string reason);
    std::vector<Spoiled>& all_set_aside() { return *set_aside_; }
    std::unique_ptr<Spoiled> take_spoiled() { return std::move(spoiled_); }

    void unknown_key(std::string_view where, std::string_view key);
    void unknown_event(std::string_view type);

    ReadCounts counts;

  private:
    using Token = const std::uint32_t*;  // where it begins, in text_

    bool load(std::string_view text);
    bool find_tokens();
    bool at_end();
    bool not_tokens(simdjson::error_code error);
    bool broken();  // at this token
    bool twice();

    // Behind the last token blanks stand, which are no token of any kind: so none is passed.
    char peek() const { return text_[*token_]; }
    template <class TakeKey>
    bool each_value(const TakeKey& take_key);
    bool key(std::string_view& out);
    bool unescape(std::string_view& text);
    void pass_value(Token& token) const;
    bool word(std::string_view word);

    ReaderOptions options_;
    std::unique_ptr<simdjson::internal::dom_parser_implementation> finder_;
    std::vector<char> buffer_;  // the text with room behind it
    const char* text_ = nullptr;
    std::size_t size_ = 0;
    Token token_ = nullptr;
    Path path_;
    bool has_escapes_ = false;
    std::vector<std::uint8_t> unescaped_;  // texts that had escapes, one after another
    std::uint8_t* unescaped_end_ = nullptr;
    std::vector<Spoiled>* set_aside_ = nullptr;
    std::unique_ptr<Spoiled> spoiled_;
    // The object in which a key stood last.
    std::vector<std::uint64_t> seen_slots_;
    std::array<std::uint64_t, key_end - key_first> seen_keys_{};
    std::uint64_t last_object_ = 0;
};

template <class Read>
bool Walk::object(std::string_view text, std::vector<Spoiled>& set_aside, const Read& read) {
    set_aside_ = &set_aside;
    set_aside.clear();
    spoiled_.reset();
    path_.clear();
    if (!load(text) || !find_tokens()) return false;
    if (!at_object()) return spoil_at("", "record.json", 0, "the record must be a JSON object");
    return read() && at_end();
}

template <class TakeKey>
bool Walk::each_value(const TakeKey& take_key) {
    ++token_;
    path_.open();
    if (peek() != '}') {
        for (;; ++token_) {
            if (!take_key()) return false;
            if (peek() != ',') break;
        }
        if (peek() != '}') return broken();
    }
    ++token_;
    path_.close();
    return true;
}

template <class Read>
bool Walk::each_key(const Read& read) {
    return each_value([&] {
        std::string_view name;
        path_.at_key(*token_);
        return key(name) && read(name);
    });
}

template <class Read>
bool Walk::each_key(NameTable& known, const Read& read) {
    NameTable::Guess guess = known.guess_first();
    return each_value([&] {
        std::string_view name;
        std::uint32_t number = none;
        const char* const begin = text_ + *token_;
        path_.at_key(*token_);
        // Most keys are the ones guessed, with their colon right behind them: then two tokens are passed.
        if (*begin == '"' && known.take_guess(begin + 1, guess, name, number))
            token_ += 2;
        else if (key(name))
            number = known.find(name, guess);
        else
            return false;
        return read(name, number);
    });
}

template <class Read>
bool Walk::each_item(const Read& read) {
    ++token_;
    path_.open();
    if (peek() != ']') {
        for (std::uint32_t index = 0;; ++index, ++token_) {
            path_.at_index(index);
            if (!read(index)) return false;
            if (peek() != ',') break;
        }
        if (peek() != ']') return broken();
    }
    ++token_;
    path_.close();
    return true;
}

// From a token's first byte, which is a quotation mark, to the next token only blanks follow the closing one.
inline std::string_view between_quotes(const char* begin, const char* next) {
    do --next;
    while (*next != '"');
    return {begin + 1, static_cast<std::size_t>(next - begin - 1)};
}

inline bool Walk::key(std::string_view& out) {
    if (peek() != '"') return broken();
    out = between_quotes(text_ + token_[0], text_ + token_[1]);
    if (has_escapes_ && !unescape(out)) return broken();
    ++token_;
    if (peek() != ':') return broken();
    ++token_;
    return true;
}

inline bool Walk::text_value(std::string_view& out) {
    out = between_quotes(text_ + token_[0], text_ + token_[1]);
    if (has_escapes_ && !unescape(out)) return broken();
    ++token_;
    return true;
}

}  // namespace linelaw::runtime::records
