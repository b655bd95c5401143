#include "compiler/numbers_in_sentence.hpp"

#include <algorithm>
#include <array>
#include <cstdint>
#include <initializer_list>
#include <optional>

#include "compiler/quantities.hpp"
#include "runtime/ascii.hpp"
#include "runtime/time.hpp"
#include "runtime/values.hpp"

namespace linelaw::compiler {

namespace {

constexpr std::int64_t day = 24 * runtime::microseconds_per_hour;

struct Word {
    std::string text;  // lower case, without punctuation at its ends
    std::size_t begin;
    std::size_t end;
};

// The blanks of a word processor part words as plain ones do: a sentence says what people see. As many bytes
// as before, so that places stay.
std::string as_seen(std::string_view sentence) {
    std::string seen(sentence);
    for (const std::string_view blank :
         {"\xC2\xA0", "\xE2\x80\xAF", "\xE2\x80\x87", "\xE2\x80\x89", "\xE2\x80\x83", "\xE2\x80\x82"})
        for (auto at = seen.find(blank); at != std::string::npos; at = seen.find(blank, at))
            seen.replace(at, blank.size(), blank.size(), ' ');
    return seen;
}

bool is_part(char c) {
    return runtime::ascii::is_letter_or_digit(c) || c == '.' || c == '%' || c == '/' ||
           static_cast<unsigned char>(c) >= 0x80;
}

// "q12h", "q48hrs".
bool is_pace(std::string_view word) {
    std::size_t i = 1;
    while (i < word.size() && runtime::ascii::is_digit(word[i])) ++i;
    if (i == 1 || i >= word.size() || runtime::ascii::lower(word[0]) != 'q') return false;
    static constexpr std::array<std::string_view, 4> times = {"h", "hr", "hrs", "min"};
    return std::find(times.begin(), times.end(), word.substr(i)) != times.end();
}

std::vector<Word> words_of(std::string_view sentence) {
    std::vector<Word> words;
    std::size_t i = 0;
    while (i < sentence.size()) {
        if (!is_part(sentence[i])) {
            ++i;
            continue;
        }
        std::size_t end = i;
        while (end < sentence.size() && is_part(sentence[end])) ++end;
        std::size_t last = end;
        while (last > i && (sentence[last - 1] == '.' || sentence[last - 1] == '/')) --last;
        const auto add = [&](std::size_t from, std::size_t to) {
            if (from == to) return;
            std::string text(sentence.substr(from, to - from));
            std::transform(text.begin(), text.end(), text.begin(), runtime::ascii::lower);
            words.push_back({text == "q" ? "every" : text, from, to});
        };
        // "q12h", as a ward writes it; "7days", "2cm": figures and letters apart.
        if (is_pace(sentence.substr(i, last - i))) {
            add(i, i + 1);
            ++i;
        }
        std::size_t figures = i;
        while (figures < last && (runtime::ascii::is_digit(sentence[figures]) || sentence[figures] == '.'))
            ++figures;
        add(i, figures);
        add(figures, last);
        i = end;
    }
    return words;
}

std::optional<std::string> number_of(const std::string& word) {
    if (!word.empty() && runtime::ascii::is_digit(word.front())) {
        const bool good = std::all_of(word.begin(), word.end(),
                                      [](char c) { return runtime::ascii::is_digit(c) || c == '.'; });
        if (good) return word;
        return std::nullopt;
    }
    static constexpr std::array<std::pair<std::string_view, std::string_view>, 26> names = {
        {{"one", "1"},      {"two", "2"},       {"three", "3"},     {"four", "4"},      {"five", "5"},
         {"six", "6"},      {"seven", "7"},     {"eight", "8"},     {"nine", "9"},      {"ten", "10"},
         {"eleven", "11"},  {"twelve", "12"},   {"thirteen", "13"}, {"fourteen", "14"}, {"fifteen", "15"},
         {"sixteen", "16"}, {"eighteen", "18"}, {"twenty", "20"},   {"thirty", "30"},   {"forty", "40"},
         {"fifty", "50"},   {"sixty", "60"},    {"ninety", "90"},   {"hundred", "100"}, {"once", "1"},
         {"twice", "2"}}};
    for (const auto& [name, number] : names)
        if (word == name) return std::string(number);
    return std::nullopt;
}

struct UnitWord {
    std::string_view word;
    std::int64_t microseconds;  // of time
    std::int32_t months;
    std::string_view unit;  // of anything else, as the language names it
};
constexpr std::array<UnitWord, 54> unit_words = {{
    {"s", 1'000'000, 0, ""},
    {"sec", 1'000'000, 0, ""},
    {"second", 1'000'000, 0, ""},
    {"seconds", 1'000'000, 0, ""},
    {"min", runtime::microseconds_per_minute, 0, ""},
    {"mins", runtime::microseconds_per_minute, 0, ""},
    {"minute", runtime::microseconds_per_minute, 0, ""},
    {"minutes", runtime::microseconds_per_minute, 0, ""},
    {"h", runtime::microseconds_per_hour, 0, ""},
    {"hr", runtime::microseconds_per_hour, 0, ""},
    {"hour", runtime::microseconds_per_hour, 0, ""},
    {"hours", runtime::microseconds_per_hour, 0, ""},
    {"day", day, 0, ""},
    {"days", day, 0, ""},
    {"week", 7 * day, 0, ""},
    {"weeks", 7 * day, 0, ""},
    {"fortnight", 14 * day, 0, ""},
    {"month", 0, 1, ""},
    {"months", 0, 1, ""},
    {"year", 0, 12, ""},
    {"years", 0, 12, ""},
    {"mm", 0, 0, "mm"},
    {"millimetre", 0, 0, "mm"},
    {"millimetres", 0, 0, "mm"},
    {"cm", 0, 0, "cm"},
    {"centimetre", 0, 0, "cm"},
    {"centimetres", 0, 0, "cm"},
    {"inch", 0, 0, "inch"},
    {"inches", 0, 0, "inch"},
    {"ml", 0, 0, "mL"},
    {"mls", 0, 0, "mL"},
    {"cc", 0, 0, "mL"},
    {"millilitre", 0, 0, "mL"},
    {"millilitres", 0, 0, "mL"},
    {"l", 0, 0, "L"},
    {"litre", 0, 0, "L"},
    {"litres", 0, 0, "L"},
    {"ml/h", 0, 0, "mL/h"},
    {"mg", 0, 0, "mg"},
    {"g", 0, 0, "g"},
    {"gram", 0, 0, "g"},
    {"grams", 0, 0, "g"},
    {"kg", 0, 0, "kg"},
    {"degc", 0, 0, "degC"},
    {"°c", 0, 0, "degC"},
    {"degf", 0, 0, "degF"},
    {"°f", 0, 0, "degF"},
    {"units/ml", 0, 0, "units/mL"},
    {"%", 0, 0, "%"},
    {"percent", 0, 0, "%"},
    {"hrs", runtime::microseconds_per_hour, 0, ""},
    {"kilogram", 0, 0, "kg"},
    {"kilograms", 0, 0, "kg"},
    {"secs", 1'000'000, 0, ""},
}};
const UnitWord* unit_of(const std::string& word) {
    const auto it =
        std::find_if(unit_words.begin(), unit_words.end(), [&](const auto& u) { return u.word == word; });
    return it == unit_words.end() ? nullptr : &*it;
}

// number × what one of the unit is; nothing where that is no whole number.
std::optional<std::int64_t> scaled(const std::string& number, std::int64_t one) {
    return runtime::grains_from_decimal(number, {"", "", runtime::Dimension::none, one, 0});
}

std::optional<AmountKey> with_unit(const std::string& number, const UnitWord& unit) {
    if (!unit.unit.empty()) {
        const auto* known = runtime::find_unit(unit.unit);
        const auto grains = known == nullptr ? std::nullopt : runtime::grains_from_decimal(number, *known);
        if (!grains) return std::nullopt;
        return physical_key(static_cast<int>(known->dimension), *grains);
    }
    const auto time = scaled(number, std::max<std::int64_t>(unit.microseconds, 1));
    const auto months = scaled(number, std::max(unit.months, 1));
    if (unit.months != 0) return months ? std::optional(time_key(0, *months)) : std::nullopt;
    return time ? std::optional(time_key(*time, 0)) : std::nullopt;
}

class Scanner {
  public:
    explicit Scanner(std::string_view sentence)
        : sentence_(sentence), seen_(as_seen(sentence)), words_(words_of(seen_)) {}

    std::vector<Said> scan() {
        while (at_ < words_.size())
            if (frequency())
                said_.back().bound.reset();  // "at least once a shift" is no bound of 1
            else if (!half() && !amount() && !every_one())
                ++at_;
        return std::move(said_);
    }

  private:
    const std::string& word(std::size_t ahead = 0) const {
        static const std::string none;
        return at_ + ahead < words_.size() ? words_[at_ + ahead].text : none;
    }
    bool take(std::size_t count, std::vector<AmountKey> readings, bool checked = true) {
        const auto last = std::min(at_ + count, words_.size()) - 1;
        said_.push_back(
            {std::string(sentence_.substr(words_[at_].begin, words_[last].end - words_[at_].begin)),
             std::move(readings), checked, bound(count), apart()});
        at_ += count;
        return true;
    }

    // Whether the words stand so many words before the number, or behind it.
    bool stand(std::size_t from, std::initializer_list<std::string_view> words) const {
        for (const std::string_view w : words)
            if (from >= words_.size() || words_[from++].text != w) return false;
        return true;
    }
    std::optional<grammar::Comparator> bound(std::size_t count) const {
        using C = grammar::Comparator;
        if (stand(at_ + count, {"or", "more"})) return C::at_least;
        if (stand(at_ + count, {"or", "less"})) return C::at_most;
        if (at_ < 2) return std::nullopt;
        const bool negated = at_ > 2 && (stand(at_ - 3, {"no"}) || stand(at_ - 3, {"not"}));
        if (stand(at_ - 2, {"at", "least"})) return negated ? std::nullopt : std::optional(C::at_least);
        if (stand(at_ - 2, {"at", "most"}) || stand(at_ - 2, {"up", "to"}))
            return negated ? std::nullopt : std::optional(C::at_most);
        if (stand(at_ - 2, {"more", "than"})) return negated ? C::at_most : C::more_than;
        if (stand(at_ - 2, {"less", "than"}) || stand(at_ - 2, {"fewer", "than"}))
            return negated ? C::at_least : C::less_than;
        return std::nullopt;
    }

    std::optional<grammar::Comparator> apart() const {
        using C = grammar::Comparator;
        const bool here = word() == "every";
        if (!here && (at_ == 0 || words_[at_ - 1].text != "every")) return std::nullopt;
        const std::size_t every = here ? at_ : at_ - 1;
        if (every >= 2 && stand(every - 2, {"at", "least"})) return C::at_most;
        if (every < 4 || (words_[every - 4].text != "no" && words_[every - 4].text != "not"))
            return std::nullopt;
        if (stand(every - 3, {"more", "often", "than"})) return C::at_least;
        if (stand(every - 3, {"less", "often", "than"})) return C::at_most;
        return std::nullopt;
    }

    // Whether the next words stand with nothing but spaces and hyphens between them: "1 h 30 min", not "1 h;
    // 30 min".
    bool together(std::size_t count) const {
        for (std::size_t i = at_; i + 1 < at_ + count; ++i)
            for (std::size_t c = words_[i].end; c < words_[i + 1].begin; ++c)
                if (seen_[c] != ' ' && seen_[c] != '-') return false;
        return true;
    }

    // "daily", "weekly", "hourly", "twice a day", "three times a week", "twice daily".
    bool frequency() {
        const auto named = [](const std::string& w) -> std::int64_t {
            if (w == "daily" || w == "day") return day;
            if (w == "weekly" || w == "week") return 7 * day;
            if (w == "hourly" || w == "hour") return runtime::microseconds_per_hour;
            if (w == "shift") return -1;
            return 0;
        };
        if (word() == "daily") return take(1, {time_key(day, 0), day_key()});
        if (word() == "weekly" || word() == "hourly") return take(1, {time_key(named(word()), 0)});
        if (word() == "monthly") return take(1, {time_key(0, 1)});
        if (word() == "yearly") return take(1, {time_key(0, 12)});
        const auto number = number_of(word());
        if (!number) return false;
        std::size_t length = 1;
        if (word(length) == "times" || word(length) == "time") ++length;
        const bool adverb = word() == "once" || word() == "twice" || length > 1;
        if (!adverb) return false;
        const bool article = word(length) == "a" || word(length) == "an" || word(length) == "each" ||
                             word(length) == "every" || word(length) == "per";
        if (article) ++length;
        if (word(length) == "calendar") ++length;
        const std::int64_t period = named(word(length));
        const bool bare =
            word(length) == "day" || word(length) == "week" || word(length) == "hour" || period < 0;
        // "at once", "once it has healed": a word of time, no number that must be found again.
        if (period == 0 || (bare && !article))
            return take(length - (article ? 1 : 0), {count_key(*number)}, word() != "once");
        std::vector<AmountKey> readings = {count_key(*number)};
        const auto times = scaled(*number, 1).value_or(0);
        if (period < 0) readings.push_back(shift_key());
        if (period == day) readings.push_back(day_key());
        if (period > 0 && times > 0 && period % times == 0) readings.push_back(time_key(period / times, 0));
        return take(length + 1, std::move(readings));
    }

    // "half an hour", "half a day".
    bool half() {
        if (word() != "half" || (word(1) != "a" && word(1) != "an")) return false;
        const auto* unit = unit_of(word(2));
        if (unit == nullptr || unit->microseconds == 0) return false;
        return take(3, {time_key(unit->microseconds / 2, 0)});
    }

    // "7 days", "two minutes", "1 h 30 min", "96", "5 to 7 days".
    bool amount() {
        const auto number = number_of(word());
        if (!number) return false;
        if (word(1) == "calendar" && (word(2) == "day" || word(2) == "days")) {
            std::vector<AmountKey> readings = {with_unit(*number, *unit_of("day")).value_or("")};
            if (*number == "1") readings.push_back(day_key());
            return take(3, std::move(readings));
        }
        const auto* unit = unit_of(word(1));
        if (unit == nullptr) {
            const bool range = (word(1) == "to" || word(1) == "or" || word(1) == "and") &&
                               number_of(word(2)) && unit_of(word(3)) != nullptr;
            if (range) {  // "at least every 5 to 7 days" says of 7 what is at least
                take(1, {with_unit(*number, *unit_of(word(3))).value_or("")});
                said_.back().apart.reset();
                return true;
            }
            const bool figures = runtime::ascii::is_digit(word().front());
            return take(1, {count_key(*number)}, figures);
        }
        const auto key = with_unit(*number, *unit);
        if (!key) return take(2, {});
        const auto more = number_of(word(2));
        const auto* second = unit_of(word(3));
        if (more && second != nullptr && together(4) && unit->microseconds > second->microseconds &&
            second->microseconds > 0) {
            const auto a = scaled(*number, unit->microseconds);
            const auto b = scaled(*more, second->microseconds);
            const auto both = a && b ? sum(*a, *b) : std::nullopt;
            if (both) return take(4, {time_key(*both, 0)});
        }
        std::vector<AmountKey> readings = {*key};
        if (*number == "1" && (word(1) == "day")) readings.push_back(day_key());
        return take(2, std::move(readings));
    }

    // "every other day", "every day", "each shift", "a week", "an hour", "every calendar day", "the same
    // shift".
    bool every_one() {
        static constexpr std::array<std::string_view, 7> before = {"every", "each", "a",   "an",
                                                                   "per",   "same", "next"};
        if (std::find(before.begin(), before.end(), word()) == before.end()) return false;
        if (word() == "every" && word(1) == "other") {
            const auto* unit = unit_of(word(2));
            if (unit == nullptr || (unit->microseconds == 0 && unit->months == 0)) return false;
            return take(3, {time_key(2 * unit->microseconds, 2 * unit->months)});
        }
        const bool article = word() == "a" || word() == "an";
        const std::size_t calendar = word(1) == "calendar" ? 1 : 0;
        const std::string& what = word(1 + calendar);
        if (what == "shift") return take(2, {shift_key()});
        if (what == "day") return take(2 + calendar, {time_key(day, 0), day_key()}, !article);
        const auto* unit = unit_of(what);
        if (unit == nullptr || (unit->microseconds == 0 && unit->months == 0) || what.size() < 3)
            return false;
        return take(2, {time_key(unit->microseconds, unit->months)}, !article);
    }

    std::string_view sentence_;
    std::string seen_;
    std::vector<Word> words_;
    std::size_t at_ = 0;
    std::vector<Said> said_;
};

}  // namespace

AmountKey time_key(std::int64_t microseconds, std::int64_t months) {
    return "t " + std::to_string(months) + ' ' + std::to_string(microseconds);
}
AmountKey physical_key(int dimension, std::int64_t grains) {
    return "q " + std::to_string(dimension) + ' ' + std::to_string(grains);
}
AmountKey count_key(std::string_view decimal) {
    std::string text(decimal);
    if (text.find('.') != std::string::npos) {
        while (text.back() == '0') text.pop_back();
        if (text.back() == '.') text.pop_back();
    }
    const auto first = text.find_first_not_of('0');
    return "n " + (first == std::string::npos ? "0" : text.substr(first));
}
AmountKey day_key() {
    return "calendar day";
}
AmountKey shift_key() {
    return "shift";
}

std::vector<Said> numbers_in(std::string_view sentence) {
    return Scanner(sentence).scan();
}

}  // namespace linelaw::compiler
