// The compiled policy as JSON: a writer and a reader over the one list of fields in policy_fields.hpp. What
// the fields must mean together, policy_check.hpp asks.
#include "runtime/policy_json.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <nlohmann/json.hpp>

#include "runtime/content_hash.hpp"
#include "runtime/policy_check.hpp"
#include "runtime/policy_fields.hpp"

namespace linelaw::runtime {
namespace {

using nlohmann::json;
using policy_fields::demand_words;
using policy_fields::expression_words;
using policy_fields::Fields;
using policy_fields::table_names;
using Ids = policy_fields::Table;

// ---- writing

class Writer {
  public:
    static constexpr bool reading = false;

    template <class T>
    static json value(const T& x) {
        Writer writer;
        Fields::of(writer, x);
        return std::move(writer.out_);
    }
    static json value(bool x) { return x; }
    static json value(std::int32_t x) { return x; }
    static json value(std::int64_t x) { return x; }
    static json value(std::uint32_t x) { return x; }
    static json value(const std::string& x) { return x; }
    static json value(const CivilDate& x) { return write_date(x); }
    static json value(const Expression& x) { return kind_and_fields(x, expression_words); }
    static json value(const Demand& x) { return kind_and_fields(x, demand_words); }
    template <class T>
    static json value(const std::vector<T>& list) {
        json out = json::array();
        for (const T& x : list) out.push_back(value(x));
        return out;
    }

    template <class T>
    void must(const char* key, const T& x) {
        out_[key] = value(x);
    }
    template <class T>
    void may(const char* key, const T& x) {
        json written = value(x);
        if (written == json(0) || written == json(false) || written == json("") || written.empty()) return;
        out_[key] = std::move(written);
    }
    template <class T>
    void may(const char* key, const std::optional<T>& x) {
        if (x) must(key, *x);
    }
    void id(const char* key, std::uint32_t x, Ids) { out_[key] = x; }
    void id_or_none(const char* key, std::uint32_t x, Ids) {
        if (x != none) out_[key] = x;
    }
    void ids(const char* key, const std::vector<std::uint32_t>& list, Ids) { may(key, list); }
    template <class E, std::size_t N>
    void word(const char* key, E x, const policy_fields::Words<N>& words) {
        out_[key] = words.at(static_cast<std::size_t>(x));
    }
    template <std::size_t N>
    void span_or_word(const char* key, const std::variant<Span, Until>& x,
                      const policy_fields::Words<N>& words) {
        if (const auto* span = std::get_if<Span>(&x))
            must(key, *span);
        else
            word(key, std::get<Until>(x), words);
    }

  private:
    template <class V, std::size_t N>
    static json kind_and_fields(const V& x, const policy_fields::Words<N>& words) {
        json out = std::visit([](const auto& alternative) { return value(alternative); }, x);
        out["kind"] = words.at(x.index());
        return out;
    }

    json out_ = json::object();
};

// Bytes that are no UTF-8 become U+FFFD: JSON has no other way to hold them.
std::string dump(const json& document, int indent) {
    return document.dump(indent, ' ', false, json::error_handler_t::replace);
}

json document_without_hash(const Policy& policy) {
    json document = Writer::value(policy);
    document["schema"] = compiled_policy_schema;
    return document;
}

std::string hash_of(const json& document_without_hash) {
    return content_hash(dump(document_without_hash, -1));
}

// ---- reading

// Thrown by the reader below and caught by read_policy, nowhere else.
struct Fault {
    std::string pointer;
    std::string what;
    std::string_view mend;
};

constexpr std::string_view compile_again = "compile the policy again";
constexpr std::string_view take_newer =
    "take a version of the program that is as new as the one that compiled it, or compile the policy with "
    "this "
    "one";
constexpr std::string_view install_zones =
    "install the system's zone database (tzdata), or give the policy a zone that it knows";

class Reader {
  public:
    static constexpr bool reading = true;

    // A reader of the whole document, which knows how long each table is.
    explicit Reader(const json& document) : in_(document), root_(document) {}

    template <class T>
    void read(T& x) {
        if (!in_.is_object()) fail("must be an object");
        Fields::of(*this, x);
        refuse_other_keys();
    }
    void also_allow(const char* key) { known_.emplace_back(key); }

    template <class T>
    void must(const char* key, T& x) {
        const json* found = find(key);
        if (!found) fail(fmt::format("`{}` is missing", key));
        child(*found, key).value(x);
    }
    template <class T>
    void may(const char* key, T& x) {
        if (const json* found = find(key)) child(*found, key).value(x);
    }
    template <class T>
    void may(const char* key, std::optional<T>& x) {
        if (const json* found = find(key)) child(*found, key).value(x.emplace());
    }
    void id(const char* key, std::uint32_t& x, Ids table) {
        const json* found = find(key);
        if (!found) fail(fmt::format("`{}` is missing", key));
        child(*found, key).index(x, table);
    }
    void id_or_none(const char* key, std::uint32_t& x, Ids table) {
        if (const json* found = find(key)) child(*found, key).index(x, table);
    }
    void ids(const char* key, std::vector<std::uint32_t>& list, Ids table) {
        const json* found = find(key);
        if (!found) return;
        Reader array = child(*found, key);
        array.each(list, [table](Reader& item, std::uint32_t& x) { item.index(x, table); });
    }
    template <class E, std::size_t N>
    void word(const char* key, E& x, const policy_fields::Words<N>& words) {
        const json* found = find(key);
        if (!found) fail(fmt::format("`{}` is missing", key));
        x = static_cast<E>(child(*found, key).place_among(words));
    }
    template <std::size_t N>
    void span_or_word(const char* key, std::variant<Span, Until>& x, const policy_fields::Words<N>& words) {
        const json* found = find(key);
        if (!found) fail(fmt::format("`{}` is missing", key));
        if (found->is_string())
            x = static_cast<Until>(child(*found, key).place_among(words));
        else
            child(*found, key).value(x.emplace<Span>());
    }

  private:
    Reader(const json& in, const json& root, std::string pointer)
        : in_(in), root_(root), pointer_(std::move(pointer)) {}

    [[noreturn]] void fail(std::string what, std::string_view mend = compile_again) const {
        throw Fault{pointer_, std::move(what), mend};
    }

    Reader child(const json& value, std::string_view key) const {
        return {value, root_, fmt::format("{}/{}", pointer_, key)};
    }
    const json* find(const char* key) {
        known_.emplace_back(key);
        const auto found = in_.find(key);
        return found == in_.end() ? nullptr : &*found;
    }
    void refuse_other_keys() const {
        for (const auto& [key, value] : in_.items())
            if (std::find(known_.begin(), known_.end(), key) == known_.end())
                fail(fmt::format("holds a key that this version does not know, `{}`", key), take_newer);
    }

    template <class T>
    void value(T& x) {
        read(x);
    }
    void value(bool& x) {
        if (!in_.is_boolean()) fail("must be true or false");
        x = in_.get<bool>();
    }
    void value(std::string& x) {
        if (!in_.is_string()) fail("must be a string");
        x = in_.get_ref<const std::string&>();
    }
    template <class T>
    void integer(T& x, std::int64_t low, std::int64_t high) {
        const bool fits = in_.is_number_unsigned()
                              ? in_.get<std::uint64_t>() <= static_cast<std::uint64_t>(high)
                              : in_.is_number_integer() && in_.get<std::int64_t>() >= low;
        if (!fits) fail(fmt::format("must be a whole number from {} to {}", low, high));
        x = in_.get<T>();
    }
    void value(std::int32_t& x) { bounded(x); }
    void value(std::int64_t& x) { bounded(x); }
    void value(std::uint32_t& x) { bounded(x); }
    template <class T>
    void bounded(T& x) {
        integer(x, std::numeric_limits<T>::min(), std::numeric_limits<T>::max());
    }
    void value(CivilDate& x) {
        const auto date =
            in_.is_string() ? read_date(in_.get_ref<const std::string&>()) : std::optional<CivilDate>{};
        if (!date) fail("must be a date such as \"2026-03-01\"");
        x = *date;
    }
    void value(Span& x) {
        read(x);
        // Far beyond any policy, and far inside what instants hold.
        constexpr std::int64_t thousand_years = 365'243 * microseconds_per_day;
        const bool fits = x.months >= 0 && x.months <= 12'000 && x.days >= 0 && x.days <= 365'243 &&
                          x.elapsed >= 0 && x.elapsed <= thousand_years;
        if (!fits) fail("must be a span between nothing and a thousand years");
    }
    void value(Expression& x) { kind_and_fields(x, expression_words); }
    void value(Demand& x) { kind_and_fields(x, demand_words); }
    template <class T>
    void value(std::vector<T>& list) {
        each(list, [](Reader& item, T& x) { item.value(x); });
    }

    template <class T, class ReadItem>
    void each(std::vector<T>& list, ReadItem read_item) {
        if (!in_.is_array()) fail("must be a list");
        list.clear();
        list.reserve(in_.size());
        for (std::size_t i = 0; i < in_.size(); ++i) {
            Reader item = child(in_[i], std::to_string(i));
            read_item(item, list.emplace_back());
        }
    }
    void index(std::uint32_t& x, Ids table) {
        const char* name = table_names.at(static_cast<std::size_t>(table));
        const auto rows = root_.find(name);
        const std::size_t size = rows == root_.end() ? 0 : rows->size();
        const bool fits = in_.is_number_unsigned() && in_.get<std::uint64_t>() < size;
        if (!fits) fail(fmt::format("must be an index into `{}`, which has {} rows", name, size));
        x = in_.get<std::uint32_t>();
    }
    template <std::size_t N>
    std::size_t place_among(const policy_fields::Words<N>& words) {
        if (in_.is_string())
            for (std::size_t i = 0; i < N; ++i)
                if (words[i] == in_.get_ref<const std::string&>()) return i;
        fail(fmt::format("must be one of {}", fmt::join(words, ", ")));
    }
    template <class V, std::size_t N>
    void kind_and_fields(V& x, const policy_fields::Words<N>& words) {
        if (!in_.is_object()) fail("must be an object");
        const json* kind = find("kind");
        if (!kind) fail("`kind` is missing");
        emplace(x, child(*kind, "kind").place_among(words), std::make_index_sequence<N>{});
        std::visit([this](auto& alternative) { this->read(alternative); }, x);
    }
    template <class V, std::size_t... I>
    static void emplace(V& x, std::size_t wanted, std::index_sequence<I...>) {
        static_cast<void>(((I == wanted ? (x.template emplace<I>(), true) : false) || ...));
    }

    const json& in_;
    const json& root_;
    std::string pointer_;
    std::vector<std::string_view> known_;
};

void index_fields(Policy& policy) {
    for (EventKind& kind : policy.event_kinds) {
        kind.slot_of_field.assign(policy.fields.size(), none);
        for (std::uint32_t slot = 0; slot < kind.attributes.size(); ++slot)
            if (const FieldId field = kind.attributes[slot].field; field != none)
                kind.slot_of_field[field] = slot;
    }
}

Error not_readable(std::string code, std::string pointer, std::string_view what,
                   std::string_view mend = compile_again) {
    std::string message = fmt::format("the compiled policy cannot be used: {} {}; {}",
                                      !pointer.empty() ? fmt::format("`{}`", pointer)
                                      : what[0] == '`' ? "in it"  // "`title` is missing"
                                                       : "it",
                                      what, mend);
    return {std::move(code), std::move(message), std::move(pointer)};
}

std::optional<Error> check_head(json& document) {
    if (!document.is_object()) return not_readable("policy.json", "", "is no JSON object");
    const auto schema = document.find("schema");
    if (schema != document.end() && *schema == json(compiled_policy_schema)) return std::nullopt;
    constexpr std::size_t longest = 64;  // of what is said again
    const std::string name = schema != document.end() && schema->is_string() ? *schema : json("");
    const bool shown = !name.empty() && name.size() <= longest;
    const std::string found = schema == document.end() ? "is missing"
                              : shown                  ? "is " + dump(*schema, -1)
                                                       : "is something else";
    const auto of_any_version = compiled_policy_schema.substr(0, compiled_policy_schema.rfind('/') + 1);
    return not_readable("policy.schema", "/schema",
                        fmt::format("{}; it must be \"{}\"", found, compiled_policy_schema),
                        name.rfind(of_any_version, 0) == 0 ? take_newer : compile_again);
}

}  // namespace

std::string write_policy(const Policy& policy) {
    json document = document_without_hash(policy);
    document["content_hash"] = hash_of(document);
    return dump(document, 1) + '\n';
}

std::string write_vocabulary(const Policy& policy) {
    json out;
    out["symbols"] = Writer::value(policy.symbols);
    out["fields"] = Writer::value(policy.fields);
    out["patient"] = Writer::value(policy.patient);
    out["line"] = Writer::value(policy.line);
    out["event_kinds"] = Writer::value(policy.event_kinds);
    out["part_kinds"] = Writer::value(policy.part_kinds);
    out["states"] = Writer::value(policy.states);
    out["roles"] = Writer::value(policy.roles);
    // What states ask at an event: the vocabulary is lowered first, so that this is all its own.
    std::size_t asked = 0;
    for (const State& state : policy.states)
        for (const Events& events : {state.from, state.until})
            for (const Pattern& pattern : events)
                if (pattern.where != none) asked = std::max(asked, std::size_t{pattern.where} + 1);
    out["expressions"] = json::array();
    for (std::size_t i = 0; i < asked; ++i)
        out["expressions"].push_back(Writer::value(policy.expressions[i]));
    return dump(out, -1);
}

void seal(Policy& policy) {
    policy.content_hash = hash_of(document_without_hash(policy));
}

bool is_compiled_policy(std::string_view text) {
    if (text.find(compiled_policy_schema) == std::string_view::npos) return false;  // most records end here
    const json document = json::parse(text, nullptr, false);
    return document.is_object() && document.contains("schema") &&
           document["schema"] == json(compiled_policy_schema);
}

Result<Policy> read_policy(std::string_view text) {
    json document = json::parse(text, nullptr, false);
    if (document.is_discarded()) return tl::unexpected(not_readable("policy.json", "", "is no valid JSON"));
    if (auto error = check_head(document)) return tl::unexpected(*std::move(error));
    try {
        Policy policy;
        Reader reader(document);
        reader.also_allow("schema");
        reader.also_allow("content_hash");
        reader.read(policy);
        const auto given = document.find("content_hash");
        if (given == document.end() || !given->is_string())
            return tl::unexpected(not_readable("policy.hash", "/content_hash", "must be a string"));
        policy.content_hash = given->get<std::string>();
        document.erase(given);
        if (hash_of(document) != policy.content_hash)
            return tl::unexpected(
                not_readable("policy.hash", "/content_hash", "does not fit the rest, which was changed"));
        index_fields(policy);
        if (const auto fault = fault_of(policy))
            return tl::unexpected(
                not_readable("policy.content", fault->pointer, fault->what,
                             fault->pointer == "/time_zone" ? install_zones : compile_again));
        return policy;
    } catch (const Fault& fault) {
        return tl::unexpected(not_readable("policy.content", fault.pointer, fault.what, fault.mend));
    }
}

}  // namespace linelaw::runtime
