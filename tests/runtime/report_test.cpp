// The page: whole, self-contained, and safe to put record texts into.
#include "runtime/report.hpp"

#include <catch2/catch.hpp>
#include <cstdlib>
#include <fstream>
#include <regex>
#include <set>

#include "tests/runtime/sample_tally.hpp"

using namespace linelaw::runtime;
using namespace small;

namespace {

std::string page() {
    const Policy p = sample_policy();
    return report_html(sample_audited(p), sample_tally(p));
}

// Elements that must be closed are, in order; void elements and self-closed ones are not counted.
std::string unbalanced(const std::string& html) {
    static const std::set<std::string> empty = {"meta", "br", "input"};
    const std::size_t body = html.find("<body>");
    std::vector<std::string> open;
    static const std::regex tag(R"(<(/?)([a-z0-9]+)((?:[^>"]|"[^"]*")*?)(/?)>)");
    for (auto at = std::sregex_iterator(html.begin() + static_cast<std::ptrdiff_t>(body), html.end(), tag);
         at != std::sregex_iterator(); ++at) {
        const std::string name = (*at)[2];
        if (empty.count(name) != 0 || (*at)[4] == "/" || name == "html") continue;
        if ((*at)[1] != "/") {
            open.push_back(name);
        } else if (open.empty() || open.back() != name) {
            return "</" + name + "> at " + std::to_string(at->position());
        } else {
            open.pop_back();
        }
    }
    return open.empty() ? "" : "<" + open.back() + "> is not closed";
}

std::size_t count(const std::string& html, const std::string& what) {
    std::size_t n = 0;
    for (std::size_t at = html.find(what); at != std::string::npos; at = html.find(what, at + 1)) ++n;
    return n;
}

}  // namespace

TEST_CASE("the page is whole and fetches nothing") {
    const std::string html = page();
    // To look at it: LINELAW_KEEP_REPORT=/some/where/report.html report_tests
    if (const char* keep = std::getenv("LINELAW_KEEP_REPORT")) std::ofstream(keep) << html;
    CHECK(unbalanced(html) == "");
    for (const char* fetched :
         {"<script", "<link", "<img", "@import", "url(http", "src=", "http://", "https://"}) {
        INFO(fetched);
        CHECK(html.find(fetched) == std::string::npos);
    }
    CHECK_THAT(html, Catch::Contains("default-src 'none'"));
}

TEST_CASE("every chart has a name and its data as a table; every table a caption and scopes") {
    const std::string html = page();
    CHECK(count(html, "role=\"img\"") + count(html, "aria-hidden=\"true\"") == count(html, "<svg"));
    CHECK(count(html, "<table") == count(html, "<caption>"));
    CHECK(count(html, "class=\"run\"") == count(html, "The months as a table"));
    CHECK(count(html, "class=\"timeline\"") == count(html, "The episode as a table"));
    CHECK(count(html, "class=\"bars\"") == count(html, "The outcomes as a table"));
    CHECK(count(html, "<th>") == 0);
}

TEST_CASE("every link leads somewhere on the page, and no two places bear one name") {
    const std::string html = page();
    std::set<std::string> names;
    static const std::regex id(R"re( id="([^"]+)")re");
    for (auto at = std::sregex_iterator(html.begin(), html.end(), id); at != std::sregex_iterator(); ++at) {
        INFO((*at)[1].str());
        CHECK(names.insert((*at)[1]).second);
    }
    static const std::regex link(R"re(href="#([^"]+)")re");
    for (auto at = std::sregex_iterator(html.begin(), html.end(), link); at != std::sregex_iterator(); ++at) {
        INFO((*at)[1].str());
        CHECK(names.count((*at)[1]) == 1);
    }
}

TEST_CASE("texts of records and policies cannot break out of their place") {
    Policy p = sample_policy();
    p.title = "</title><script>alert(1)</script> @body@ @style@";
    p.clauses[0].sentence = "\"><b>bold</b> & 'more'";
    Tally tally = sample_tally(p, 40);
    tally.worst[0].episode = "<i>q</i>";
    tally.by_care_unit["<td>"] = tally.by_care_unit["icu-1"];
    const std::string html = report_html(sample_audited(p), tally);
    CHECK(html.find("<script") == std::string::npos);
    CHECK(html.find("<b>bold") == std::string::npos);
    CHECK(html.find("<i>q") == std::string::npos);
    CHECK(unbalanced(html) == "");
    CHECK_THAT(html, Catch::Contains("@body@ @style@"));
}

TEST_CASE("a page of nothing says so") {
    const Policy p = sample_policy();
    Tally empty;
    empty.all.counts.resize(sample_audited(p).items.size());
    const std::string html = report_html(sample_audited(p), empty);
    CHECK(unbalanced(html) == "");
    CHECK_THAT(html, Catch::Contains("No record could be judged") && !Catch::Contains("nan") &&
                         !Catch::Contains("100.0 %"));
}

TEST_CASE("how sure names the clauses of which more is unknown than counts against") {
    const Policy p = sample_policy();
    Tally tally;
    const Audited a = sample_audited(p);
    tally.read = tally.judged = 1;
    tally.all.line_days = 500;
    tally.all.counts.resize(a.items.size());
    const auto put = [&](std::size_t item, Outcome outcome, std::uint64_t n) {
        tally.all.counts[item].outcomes[static_cast<std::size_t>(outcome)] = n;
    };
    put(0, Outcome::met, 90), put(0, Outcome::late, 5), put(0, Outcome::not_assessable, 5);
    put(1, Outcome::met, 90), put(1, Outcome::late, 5), put(1, Outcome::not_assessable, 6);
    put(2, Outcome::met, 90), put(2, Outcome::not_assessable, 60);
    put(3, Outcome::not_assessable, 9);  // no evidence at all, which is said of it elsewhere
    const std::string html = report_html(a, tally);
    const std::size_t at = html.find("More is unknown (not assessable) than counts against");
    REQUIRE(at != std::string::npos);
    const std::string line = html.substr(at, html.find("</li>", at) - at);
    CHECK_THAT(line, !Catch::Contains("dressing.transparent") && !Catch::Contains("set.continuous"));
    CHECK(line.find("antisepsis.dry") < line.find("dressing.compromised"));
    CHECK(line.find("dressing.compromised") != std::string::npos);
    // Of all clauses together there is no Poisson count, so no interval.
    CHECK_THAT(html, Catch::Contains("<dd>20.0<small>clauses and escalations together"));
}

TEST_CASE("the page claims no more of its months than they show") {
    const std::string html = page();
    CHECK_THAT(html, !Catch::Contains("more than chance would do") &&
                         Catch::Contains("No signal by the rules that were asked for.") &&
                         Catch::Contains("would by chance alone") &&
                         Catch::Contains("the first months of a long one, look better than they are") &&
                         Catch::Contains("within one interval of the record’s beginning look better"));
}

TEST_CASE("a page of a tally that was written and read again is the same to the byte") {
    const Policy p = sample_policy();
    const auto part = read_partial(partial_json(sample_audited(p), sample_tally(p)));
    REQUIRE(part);
    CHECK(report_html(part->audited, part->tally) == page());
}
