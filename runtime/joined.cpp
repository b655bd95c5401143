#include "runtime/joined.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <map>

#include "runtime/content_hash.hpp"
#include "runtime/policy_fields.hpp"
#include "runtime/policy_json.hpp"

namespace linelaw::runtime {
namespace {

using policy_fields::Fields;
using Ids = policy_fields::Table;

// Moves the ids of what is put behind other items of its kind. Ids of the vocabulary stay: it is shared.
class Mover {
  public:
    static constexpr bool reading = true;

    explicit Mover(const Policy& before) {
        by(Ids::tables) = size_of(before.tables);
        by(Ids::expressions) = size_of(before.expressions);
        by(Ids::clauses) = size_of(before.clauses);
        by(Ids::ladders) = size_of(before.ladders);
    }

    template <class T>
    void move(T& x) {
        if constexpr (requires { Fields::of(*this, x); }) Fields::of(*this, x);
    }
    void move(Expression& x) {
        std::visit([this](auto& alternative) { move(alternative); }, x);
    }
    void move(Demand& x) {
        std::visit([this](auto& alternative) { move(alternative); }, x);
    }
    template <class T>
    void move(std::vector<T>& list) {
        for (auto& x : list) move(x);
    }
    void move(std::vector<bool>& /*list*/) {}
    template <class T>
    void move(std::optional<T>& x) {
        if (x) move(*x);
    }
    void move_id(std::uint32_t& x, Ids table) {
        if (x != none) x += by(table);
    }

    // What policy_fields.hpp asks of an Io.
    template <class T>
    void must(const char* /*key*/, T& x) {
        move(x);
    }
    template <class T>
    void may(const char* /*key*/, T& x) {
        move(x);
    }
    void id(const char* /*key*/, std::uint32_t& x, Ids table) { move_id(x, table); }
    void id_or_none(const char* /*key*/, std::uint32_t& x, Ids table) { move_id(x, table); }
    void ids(const char* /*key*/, std::vector<std::uint32_t>& list, Ids table) {
        for (std::uint32_t& x : list) move_id(x, table);
    }
    template <class E, std::size_t N>
    void word(const char* /*key*/, E& /*x*/, const policy_fields::Words<N>& /*words*/) {}
    template <std::size_t N>
    void span_or_word(const char* /*key*/, std::variant<Span, Until>& /*x*/,
                      const policy_fields::Words<N>& /*words*/) {}

  private:
    template <class T>
    static std::uint32_t size_of(const std::vector<T>& list) {
        return static_cast<std::uint32_t>(list.size());
    }
    std::uint32_t& by(Ids table) { return by_.at(static_cast<std::size_t>(table)); }

    std::array<std::uint32_t, policy_fields::table_names.size()> by_{};
};

template <class T>
void put_behind(std::vector<T>& into, std::vector<T>& from) {
    into.insert(into.end(), std::make_move_iterator(from.begin()), std::make_move_iterator(from.end()));
}

void append(Policy& all, Policy& one) {
    const auto edition = static_cast<EditionId>(all.editions.size());
    Mover mover(all);
    mover.move(one.expressions);
    mover.move(one.tables);
    mover.move(one.clauses);
    mover.move(one.ladders);
    mover.move(one.bundles);
    mover.move_id(one.governs, Ids::expressions);
    const auto mark = [edition](auto& list) {
        for (auto& x : list) x.edition = edition;
    };
    mark(one.shifts), mark(one.sources), mark(one.clauses), mark(one.ladders), mark(one.bundles);
    put_behind(all.expressions, one.expressions);
    put_behind(all.tables, one.tables);
    put_behind(all.shifts, one.shifts);
    put_behind(all.sources, one.sources);
    put_behind(all.clauses, one.clauses);
    put_behind(all.ladders, one.ladders);
    put_behind(all.bundles, one.bundles);
    all.editions.push_back({one.title, one.edition, one.content_hash, one.owner, one.in_force_from,
                            one.in_force_until, one.review_by, one.governs});
}

std::string named(const Policy& policy) {
    return policy.edition.empty() ? fmt::format("“{}”", policy.title)
                                  : fmt::format("edition {} of “{}”", policy.edition, policy.title);
}

// Titles in the order given, the editions of one by their days; without a first day: from ever.
void put_in_order(std::vector<Policy>& policies) {
    std::map<std::string, std::size_t> first;
    for (const Policy& policy : policies) first.emplace(policy.title, first.size());
    std::stable_sort(policies.begin(), policies.end(), [&](const Policy& a, const Policy& b) {
        return a.title == b.title ? a.in_force_from < b.in_force_from : first[a.title] < first[b.title];
    });
}

Result<void> fit_together(const Policy& one, const Policy& next) {
    const auto refuse = [&](const char* code, const std::string& why) {
        return tl::unexpected(
            Error{code, fmt::format("{} and {} cannot judge together: {}", named(one), named(next), why)});
    };
    if (write_vocabulary(one) != write_vocabulary(next))
        return refuse("policies.vocabulary",
                      "they do not speak of the same events, attributes and states; let both use one "
                      "vocabulary, or audit each by itself");
    if (one.time_zone != next.time_zone)
        return refuse("policies.zone", fmt::format("their time zones are {} and {}; audit each by itself",
                                                   one.time_zone, next.time_zone));
    if (one.title != next.title) return {};
    if (!next.in_force_from)
        return refuse("conflict.edition", "both are in force from the beginning; say `in force from …`");
    if (!one.in_force_until || *one.in_force_until >= *next.in_force_from)
        return refuse("conflict.edition",
                      fmt::format("both are in force on {}; let the older one end on the day before",
                                  write_date(*next.in_force_from)));
    return {};
}

std::string list_of(const std::vector<std::string>& texts) {
    std::string out;
    for (std::size_t i = 0; i < texts.size(); ++i)
        out += (i == 0 ? "" : i + 1 == texts.size() ? " and " : ", ") + texts[i];
    return out;
}

// What all of them are called together, and one hash for the lot.
void name_together(Policy& all) {
    std::vector<std::string> titles;
    std::vector<std::string> editions;
    std::string hashes;
    for (const Edition& e : all.editions) {
        if (titles.empty() || titles.back() != e.title) titles.push_back(e.title);
        editions.push_back(e.edition.empty() ? "without a number" : e.edition);
        hashes += e.content_hash + "\n";
        if (e.owner != all.owner) all.owner.clear();
    }
    all.title = list_of(titles);
    all.edition = titles.size() == 1 ? list_of(editions) : "";
    all.content_hash = content_hash(hashes);
    all.in_force_from.reset();
    all.in_force_until.reset();
    all.review_by.reset();
    all.governs = none;
}

}  // namespace

Result<Policy> joined(std::vector<Policy> policies) {
    if (policies.size() == 1) return std::move(policies.front());
    put_in_order(policies);
    for (std::size_t i = 1; i < policies.size(); ++i)
        if (auto fit = fit_together(policies[i - 1], policies[i]); !fit) return tl::unexpected(fit.error());
    Policy all = policies.front();
    all.expressions.clear();
    all.tables.clear();
    all.shifts.clear();
    all.sources.clear();
    all.clauses.clear();
    all.ladders.clear();
    all.bundles.clear();
    for (Policy& policy : policies) append(all, policy);
    name_together(all);
    return all;
}

bool follows(const Edition& newer, const Edition& older) {
    return newer.title == older.title && newer.in_force_from && older.in_force_until &&
           add_days(*older.in_force_until, 1) == *newer.in_force_from;
}

const std::string& edition_of(const Policy& policy, EditionId edition) {
    return edition == none ? policy.edition : policy.editions[edition].edition;
}

std::string edition_words(const Policy& policy, EditionId edition) {
    const Edition& e = policy.editions[edition];
    const bool one_title = std::all_of(policy.editions.begin(), policy.editions.end(),
                                       [&](const Edition& other) { return other.title == e.title; });
    if (one_title) return "edition " + e.edition;
    return e.edition.empty() ? e.title : e.title + ", edition " + e.edition;
}

std::string in_force_words(const std::optional<CivilDate>& from, const std::optional<CivilDate>& until) {
    std::string out = from ? "from " + write_date(*from) : "";
    if (until) out += (out.empty() ? "until " : " until ") + write_date(*until);
    return out;
}

}  // namespace linelaw::runtime
