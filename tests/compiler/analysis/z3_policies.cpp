#include "tests/compiler/analysis/z3_policies.hpp"

#include <fmt/format.h>

#include <map>
#include <set>
#include <sstream>
#include <stdexcept>

#include "tests/compiler/analysis/texts.hpp"

namespace linelaw::compiler::analysis {

namespace {

using What = DrawnAtom::What;
using Form = DrawnCondition::Form;

const std::vector<std::string> kinds{"picc", "midline", "port"};
const std::vector<std::string> settings{"icu", "ward", "outpatient", "home"};
const std::vector<std::string> antiseptics{"chg_alcohol", "povidone_iodine", "alcohol"};
const std::vector<std::string> comparators{"at least", "at most", "more than", "less than", "is", "is not"};
const std::vector<int> age_days{28, 59, 60, 61, 62, 90};
const std::vector<int> age_months{1, 2, 3, 216};

std::vector<int> some_of(std::mt19937& random, std::size_t count) {
    std::vector<int> values;
    while (values.empty())
        for (std::size_t i = 0; i < count; ++i)
            if (random() % 2 == 0) values.push_back(static_cast<int>(i));
    return values;
}

DrawnAtom draw_atom(std::mt19937& random) {
    DrawnAtom atom;
    switch (random() % 6) {
        case 0:
            atom.what = What::kind;
            atom.values = some_of(random, kinds.size());
            break;
        case 1:
            atom.what = What::setting;
            atom.values = some_of(random, settings.size());
            break;
        case 2:
            atom.what = What::flag;
            break;
        case 3:
        case 4:
            atom.what = What::length;
            atom.comparator = static_cast<int>(random() % 6);
            atom.number = static_cast<int>(random() % 4) * 10;
            break;
        default:
            atom.what = What::age;
            atom.comparator = static_cast<int>(random() % 4);
            atom.months = random() % 2 == 0;
            atom.number =
                atom.months ? age_months[random() % age_months.size()] : age_days[random() % age_days.size()];
    }
    atom.negated = random() % 4 == 0;
    return atom;
}

DrawnCondition draw_condition(std::mt19937& random, int depth) {
    DrawnCondition condition;
    if (depth == 0 || random() % 3 == 0) {
        condition.atom = draw_atom(random);
        return condition;
    }
    condition.form = random() % 5 == 0 ? Form::opposite : random() % 2 == 0 ? Form::both : Form::either;
    condition.parts.push_back(draw_condition(random, depth - 1));
    if (condition.form != Form::opposite) condition.parts.push_back(draw_condition(random, depth - 1));
    return condition;
}

std::string list(const std::vector<int>& values, const std::vector<std::string>& names) {
    std::vector<std::string> words;
    for (const int v : values) words.push_back(names[static_cast<std::size_t>(v)]);
    std::string text;
    for (std::size_t i = 0; i < words.size(); ++i) text += (i > 0 ? ", " : "") + words[i];
    return (words.size() > 1 ? "one of " : "") + text;
}

std::string as_text(const DrawnAtom& atom) {
    std::string text;
    switch (atom.what) {
        case What::kind:
            text = "line.kind is " + list(atom.values, kinds);
            break;
        case What::setting:
            text = "setting is " + list(atom.values, settings);
            break;
        case What::flag:
            text = "chg_sensitivity";
            break;
        case What::length:
            text = fmt::format("line.external_length {} {} cm",
                               comparators[static_cast<std::size_t>(atom.comparator)], atom.number / 10);
            break;
        case What::age:
            text = fmt::format("patient.age {} {} {}", comparators[static_cast<std::size_t>(atom.comparator)],
                               atom.number, atom.months ? "months" : "days");
    }
    return atom.negated ? "not (" + text + ")" : text;
}

std::string as_text(const DrawnCondition& condition) {
    switch (condition.form) {
        case Form::atom:
            return as_text(condition.atom);
        case Form::opposite:
            return "not (" + as_text(condition.parts[0]) + ")";
        case Form::both:
            return "(" + as_text(condition.parts[0]) + " and " + as_text(condition.parts[1]) + ")";
        case Form::either:
            return "(" + as_text(condition.parts[0]) + " or " + as_text(condition.parts[1]) + ")";
    }
    return "";
}

}  // namespace

DrawnPolicy draw(std::mt19937& random) {
    DrawnPolicy policy;
    const std::size_t answering = 2 + random() % 4;
    for (std::size_t i = 0; i < answering; ++i) policy.answering.push_back(draw_condition(random, 2));
    const std::size_t demanding = 2 + random() % 3;
    for (std::size_t i = 0; i < demanding; ++i) {
        DrawnDemand demand;
        demand.of_antiseptic = random() % 2 == 0;
        demand.values = some_of(random, antiseptics.size());
        demand.comparator = static_cast<int>(random() % 4);
        demand.seconds = 30 * static_cast<int>(1 + random() % 4);
        policy.demanding.emplace_back(draw_condition(random, 1), demand);
    }
    policy.has_never = random() % 2 == 0;
    policy.never = draw_condition(random, 1);
    return policy;
}

namespace {

void constructs_in(const DrawnCondition& condition, std::set<std::string>& all) {
    switch (condition.form) {
        case Form::atom: {
            static const std::vector<std::string> names{"a list: line.kind", "a state: setting", "a flag",
                                                        "a number", "an age"};
            const DrawnAtom& atom = condition.atom;
            all.insert(names[static_cast<std::size_t>(atom.what)]);
            if (atom.what == What::age) all.insert(atom.months ? "an age in months" : "an age in days");
            if (atom.what == What::length || atom.what == What::age)
                all.insert("compared: " + comparators[static_cast<std::size_t>(atom.comparator)]);
            if (atom.negated) all.insert("not");
            break;
        }
        case Form::opposite:
            all.insert("not");
            break;
        case Form::both:
            all.insert("and");
            break;
        case Form::either:
            all.insert("or");
            break;
    }
    for (const DrawnCondition& part : condition.parts) constructs_in(part, all);
}

}  // namespace

std::set<std::string> constructs(const DrawnPolicy& policy) {
    std::set<std::string> all;
    for (const DrawnCondition& condition : policy.answering) constructs_in(condition, all);
    for (const auto& [condition, demand] : policy.demanding) {
        constructs_in(condition, all);
        all.insert(demand.of_antiseptic
                       ? "a demand of a list"
                       : "a demand of a number: " + comparators[static_cast<std::size_t>(demand.comparator)]);
    }
    if (policy.has_never) {
        constructs_in(policy.never, all);
        all.insert("never");
    }
    return all;
}

std::string as_vocabulary(const DrawnPolicy& policy) {
    return vocabulary(policy.has_never ? "\nnever " + as_text(policy.never) + " because \"drawn\"\n" : "");
}

std::string as_policy(const DrawnPolicy& drawn) {
    std::string items =
        "question how_often\n  \"How often?\"\n  about review how often\n  for every combination of "
        "line.kind\n\n";
    for (std::size_t i = 0; i < drawn.answering.size(); ++i)
        items += fmt::format(
            "clause answer_{}\n  \"Drawn.\"\n  for {}\n  must review at least every 7 days\n  reason "
            "\"drawn\"\n\n",
            i, as_text(drawn.answering[i]));
    for (std::size_t i = 0; i < drawn.demanding.size(); ++i) {
        const auto& [condition, demand] = drawn.demanding[i];
        const std::string asked =
            demand.of_antiseptic
                ? "antiseptic is " + list(demand.values, antiseptics)
                : fmt::format("dry_time {} {} s", comparators[static_cast<std::size_t>(demand.comparator)],
                              demand.seconds);
        items += fmt::format(
            "clause value_{}\n  \"Drawn.\"\n  for {}\n  at dressing_change\n  must {}\n  reason "
            "\"drawn\"\n\n",
            i, as_text(condition), asked);
    }
    return policy(items);
}

// ---- formulas
// ------------------------------------------------------------------------------------------------------

namespace {

z3::expr compared(const z3::expr& left, int comparator, int right) {
    switch (comparator) {
        case 0:
            return left >= right;
        case 1:
            return left <= right;
        case 2:
            return left > right;
        case 3:
            return left < right;
        case 4:
            return left == right;
        default:
            return left != right;
    }
}

bool leap(int year) {
    return year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
}
int days_in(int year, int month) {
    static const int lengths[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    return month == 2 && leap(year) ? 29 : lengths[month - 1];
}

// For each number of completed months that matters, the fewest and the most completed days with which it
// comes: by counting days on a calendar of its own.
struct MonthRange {
    int months = 0;
    int fewest = 1 << 30;
    int most = -1;
};
std::vector<MonthRange> month_ranges() {
    std::vector<MonthRange> ranges;
    std::set<int> bounds;  // `at most 2 months` is less than 3
    for (const int months : age_months) bounds.insert({months, months + 1});
    for (const int months : bounds) ranges.push_back({months, 1 << 30, -1});
    for (int year = 1999; year <= 2008; ++year)
        for (int month = 1; month <= 12; ++month)
            for (int day = 1; day <= days_in(year, month); ++day)
                for (MonthRange& range : ranges) {
                    int y = year;
                    int m = month;
                    int length = -day;
                    for (int i = 0; i < range.months; ++i) {
                        length += days_in(y, m);
                        if (++m > 12) {
                            m = 1;
                            ++y;
                        }
                    }
                    length += std::min(day, days_in(y, m));
                    range.fewest = std::min(range.fewest, length);
                    range.most = std::max(range.most, length);
                }
    return ranges;
}

}  // namespace

Formulas::Formulas(z3::context& context, const DrawnPolicy& policy)
    : c_(context),
      policy_(policy),
      kind_(context.int_const("kind")),
      setting_(context.int_const("setting")),
      flag_(context.bool_const("flag")),
      length_(context.int_const("length")),
      days_(context.int_const("days")),
      months_(context.int_const("months")),
      ages_(context.bool_val(true)) {
    // So many months are completed after somewhere between the fewest and the most days, in the order of
    // months.
    static const std::vector<MonthRange> ranges = month_ranges();
    for (const MonthRange& range : ranges) {
        ages_ = ages_ && z3::implies(days_ < range.fewest, months_ < range.months) &&
                z3::implies(days_ >= range.most, months_ >= range.months);
    }
}

z3::expr Formulas::possible() const {
    z3::expr bounds = kind_ >= 0 && kind_ < static_cast<int>(kinds.size()) && setting_ >= 0 &&
                      setting_ < static_cast<int>(settings.size()) && length_ >= 0 && length_ <= 600 &&
                      days_ >= 0 && days_ <= 43'000 && months_ >= 0 && months_ <= 1440 && ages_;
    return policy_.has_never ? bounds && !condition(policy_.never) : bounds;
}

z3::expr Formulas::atom(const DrawnAtom& atom) const {
    z3::expr result = c_.bool_val(false);
    switch (atom.what) {
        case What::kind:
            for (const int v : atom.values) result = result || kind_ == v;
            break;
        case What::setting:
            for (const int v : atom.values) result = result || setting_ == v;
            break;
        case What::flag:
            result = flag_;
            break;
        case What::length:
            result = compared(length_, atom.comparator, atom.number);
            break;
        case What::age:
            result = compared(atom.months ? months_ : days_, atom.comparator, atom.number);
            break;
    }
    return atom.negated ? !result : result;
}

z3::expr Formulas::condition(const DrawnCondition& drawn) const {
    switch (drawn.form) {
        case Form::atom:
            return atom(drawn.atom);
        case Form::opposite:
            return !condition(drawn.parts[0]);
        case Form::both:
            return condition(drawn.parts[0]) && condition(drawn.parts[1]);
        case Form::either:
            return condition(drawn.parts[0]) || condition(drawn.parts[1]);
    }
    return c_.bool_val(false);
}

z3::expr Formulas::antiseptic(const char* name) const {
    return c_.int_const(name);
}

z3::expr Formulas::antiseptic_bounds(const z3::expr& antiseptic, const z3::expr& seconds) const {
    return antiseptic >= 0 && antiseptic < static_cast<int>(antiseptics.size()) && seconds >= 0 &&
           seconds <= 1800;
}

z3::expr Formulas::demand(const DrawnDemand& drawn, const z3::expr& antiseptic,
                          const z3::expr& seconds) const {
    if (!drawn.of_antiseptic) return compared(seconds, drawn.comparator, drawn.seconds);
    z3::expr result = c_.bool_val(false);
    for (const int v : drawn.values) result = result || antiseptic == v;
    return result;
}

// ---- the analysis's words
// -------------------------------------------------------------------------------------------

namespace {

std::vector<std::string> alternatives(std::string words) {
    if (words.rfind("one of ", 0) == 0) words = words.substr(7);
    std::vector<std::string> parts;
    std::string part;
    std::istringstream in(words);
    while (std::getline(in, part, ',')) {
        const std::size_t at = part.find(" or ");
        for (std::string piece : at == std::string::npos
                                     ? std::vector<std::string>{part}
                                     : std::vector<std::string>{part.substr(0, at), part.substr(at + 4)}) {
            piece.erase(0, piece.find_first_not_of(' '));
            parts.push_back(piece);
        }
    }
    return parts;
}

bool begins(const std::string& text, const std::string& start) {
    return text.rfind(start, 0) == 0;
}

}  // namespace

z3::expr Formulas::number_words(const z3::expr& number, const std::string& all, int per_unit) const {
    z3::expr any = c_.bool_val(false);
    const auto value = [&](const std::string& text) { return std::stoi(text) * per_unit; };
    for (const std::string& words : alternatives(all)) {
        const std::size_t to = words.find(" to ");
        if (words == "any value") return c_.bool_val(true);
        if (begins(words, "at least ")) {
            any = any || number >= value(words.substr(9));
        } else if (begins(words, "at most ")) {
            any = any || number <= value(words.substr(8));
        } else if (begins(words, "more than ")) {
            any = any || number > value(words.substr(10));
        } else if (begins(words, "less than ")) {
            any = any || number < value(words.substr(10));
        } else if (to != std::string::npos) {
            const bool open = begins(words, "over ");
            const int low = value(words.substr(5));
            const std::string rest = words.substr(to + 4);
            const z3::expr from = open ? number > low : number >= low;
            any = any ||
                  (from && (begins(rest, "under ") ? number < value(rest.substr(6)) : number <= value(rest)));
        } else {
            any = any || number == value(words);
        }
    }
    return any;
}

// "at least 2 months and less than 18 years", each bound in its own unit.
z3::expr Formulas::age_words(const std::string& all) const {
    if (all == "any value") return c_.bool_val(true);
    z3::expr any = c_.bool_val(false);
    for (const std::string& words : alternatives(all)) {
        z3::expr fits = c_.bool_val(true);
        std::istringstream in(words);
        std::string word;
        bool at_least = true;
        int number = 0;
        while (in >> word) {
            if (word == "at" || word == "and" || word == "than") continue;
            if (word == "least") {
                at_least = true;
            } else if (word == "less") {
                at_least = false;
            } else if (std::isdigit(static_cast<unsigned char>(word[0])) != 0) {
                number = std::stoi(word);
            } else {
                const bool months = begins(word, "month") || begins(word, "year");
                const int bound = begins(word, "year") ? number * 12 : number;
                const z3::expr& age = months ? months_ : days_;
                fits = fits && (at_least ? age >= bound : age < bound);
            }
        }
        any = any || fits;
    }
    return any;
}

z3::expr Formulas::situation(const std::vector<std::pair<std::string, std::string>>& words) const {
    z3::expr all = c_.bool_val(true);
    const auto one_of = [&](const z3::expr& unknown, const std::string& text,
                            const std::vector<std::string>& names) {
        z3::expr any = c_.bool_val(false);
        for (const std::string& word : alternatives(text)) {
            const auto at = std::find(names.begin(), names.end(), word);
            if (at == names.end()) throw std::runtime_error("no value of " + text + " is known: " + word);
            any = any || unknown == static_cast<int>(at - names.begin());
        }
        return any;
    };
    for (const auto& [name, text] : words) {
        if (name == "line.kind") {
            all = all && one_of(kind_, text, kinds);
        } else if (name == "setting") {
            all = all && one_of(setting_, text, settings);
        } else if (name == "patient.chg_sensitivity") {
            all = all && (text == "yes" ? flag_ : !flag_);
        } else if (name == "line.external_length") {
            all = all && number_words(length_, text, 10);
        } else if (name == "patient.age") {
            all = all && age_words(text);
        } else {
            throw std::runtime_error("a situation speaks of " + name);
        }
    }
    return all;
}

}  // namespace linelaw::compiler::analysis
