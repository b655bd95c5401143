// One test a construct, in the order of the reference: what is written, and the tree that it stands for.
#include <catch2/catch.hpp>

#include "corpus.hpp"

using namespace linelaw::grammar;
using namespace linelaw::grammar::testing;

namespace {

// The dump of `condition`, as a term's.
std::string condition(const std::string& text) {
    const std::string whole = item("term t means " + text);
    const std::string head = "(term t ";
    REQUIRE(whole.rfind(head, 0) == 0);
    return whole.substr(head.size(), whole.size() - head.size() - 1);
}

// The dump of one line of a clause.
std::string line(const std::string& text) {
    const std::string whole = item("clause c\n  " + text);
    const std::string head = "(clause c ";
    REQUIRE(whole.rfind(head, 0) == 0);
    return whole.substr(head.size(), whole.size() - head.size() - 1);
}

std::string must(const std::string& text) {
    const std::string whole = line("must " + text);
    REQUIRE(whole.rfind("(must ", 0) == 0);
    return whole.substr(6, whole.size() - 7);
}

std::string attribute(const std::string& text) {
    const std::string whole = item("line\n  " + text);
    REQUIRE(whole.rfind("(line (attribute ", 0) == 0);
    return whole.substr(17, whole.size() - 19);
}

std::string whole(const std::string& text) {
    const Read result = read(text);
    for (const Diagnostic& diagnostic : result.parsed.diagnostics) FAIL_CHECK(diagnostic.message);
    return dump(result.parsed.tree);
}

std::string example(const std::string& text) {
    const std::string all = item("example \"E\"\n  " + text);
    REQUIRE(all.rfind("(example \"E\" ", 0) == 0);
    return all.substr(13, all.size() - 14);
}

}  // namespace

// ---- 1. Words and literals
// -----------------------------------------------------------------------------------

TEST_CASE("newlines are white space, and a comment runs to the end of its line") {
    CHECK(item("term\n a # says what\n means # and how\n\n b") == "(term a b)");
}

TEST_CASE("a keyword does not match the beginning of a name") {
    CHECK(condition("organ or andes and notable") == "(or organ (and andes notable))");
    CHECK(condition("is_dry is islet") == "(= is_dry islet)");
    CHECK(condition("dwelling at least 2") == "(>= dwelling 2)");
    CHECK(must("noted within 2 h") == "(within noted 2 h)");
    CHECK(must("not nothing") == "(forbid nothing)");
    CHECK(item("role clauses, items, lines") == "(role clauses items lines)");
}

TEST_CASE("a string folds runs of white space and undoes the escaped quotation mark") {
    CHECK(line("\"Say  \\\"ah\\\"\n\t and  breathe. \"") == "\"Say \\\"ah\\\" and breathe.\"");
    CHECK(line("\"no # comment here\"") == "\"no # comment here\"");
    CHECK(line("\"\"") == "\"\"");
}

TEST_CASE("a quantity is one or more numbers with units") {
    CHECK(condition("x at least 7 days") == "(>= x 7 days)");
    CHECK(condition("x at least 1 h 30 min") == "(>= x 1 h 30 min)");
    CHECK(condition("x at least 38.3 degC") == "(>= x 38.3 degC)");
    CHECK(condition("x at least 0.5 %") == "(>= x 0.5 %)");
    CHECK(condition("x at least 0.5%") == "(>= x 0.5 %)");
    CHECK(condition("x at least 30s") == "(>= x 30 s)");
    CHECK(condition("x at least 5 mL/h") == "(>= x 5 mL/h)");
    CHECK(condition("x at least 100 units/mL") == "(>= x 100 units/mL)");
    CHECK(condition("x at least 2 calendar\n days") == "(>= x 2 calendar days)");
    CHECK(condition("x at least -5 degC") == "(>= x -5 degC)");
}

TEST_CASE("one day and several are the same unit") {
    CHECK(condition("x at least 7 day") == "(>= x 7 days)");
    CHECK(condition("x at least 1 days") == "(>= x 1 day)");
    CHECK(condition("x at least 1 calendar days") == "(>= x 1 calendar day)");
}

TEST_CASE("dates and times of day") {
    CHECK(condition("x is 2024-02-29") == "(= x 2024-02-29)");
    CHECK(condition("x at least 7:05") == "(>= x 07:05)");
}

TEST_CASE("a reserved word may be a name after a dot, and inside a line") {
    CHECK(condition("event.reason is leak") == "(= event.reason leak)");
    CHECK(must("document event.source, reason") == "(document event.source reason)");
    CHECK(example("day 1 09:00 set_change reason leak") == "(day 1 09:00 set_change (= reason leak))");
    CHECK(attribute("reason : one of leak, line") == "reason one-of leak line");
}

TEST_CASE("a byte order mark, carriage returns and tabs are accepted") {
    CHECK(whole("\xEF\xBB\xBFpolicy \"P\"\r\n\tedition 3\r\nterm a means b\r\n") ==
          "(policy \"P\" (edition 3)) (term a b)");
}

TEST_CASE("comments are kept with their places") {
    const Read result = read("policy \"P\" # one  \r\n#two\nterm a means b");
    REQUIRE(result.parsed.tree.comments.size() == 2);
    CHECK(result.parsed.tree.comments[0].text == " one");
    CHECK(result.parsed.tree.comments[0].place.begin == 11);
    CHECK(result.parsed.tree.comments[0].place.end == 16);
    CHECK(result.parsed.tree.comments[1].text == "two");
}

// ---- 1. Comparisons
// ------------------------------------------------------------------------------------------

TEST_CASE("comparisons are words, and their signs are accepted") {
    CHECK(condition("x at least 1") == "(>= x 1)");
    CHECK(condition("x at most 1") == "(<= x 1)");
    CHECK(condition("x more than 1") == "(> x 1)");
    CHECK(condition("x less than 1") == "(< x 1)");
    CHECK(condition("x is a") == "(= x a)");
    CHECK(condition("x is not a") == "(!= x a)");
    CHECK(condition("x >= 1") == "(>= x 1)");
    CHECK(condition("x<=1") == "(<= x 1)");
    CHECK(condition("x > 1") == "(> x 1)");
    CHECK(condition("x < 1") == "(< x 1)");
    CHECK(condition("x = a") == "(= x a)");
    CHECK(condition("x != a") == "(!= x a)");
    CHECK(condition("x is one of a, b") == "(one-of x a b)");
    CHECK(condition("x is not one of a, b") == "(not-one-of x a b)");
    CHECK(condition("x between 1 cm and 2 cm and y") == "(and (between x 1 cm 2 cm) y)");
    CHECK(condition("x is no") == "(= x no)");
    CHECK(condition("facility is \"quillhaven\"") == "(= facility \"quillhaven\")");
}

// ---- 2. Vocabulary
// -------------------------------------------------------------------------------------------

TEST_CASE("a vocabulary has a name, an edition and what it extends") {
    CHECK(whole("vocabulary v edition 2 extends \"a.linelaw\" extends \"b.linelaw\"") ==
          "(vocabulary v (edition 2) (extends \"a.linelaw\") (extends \"b.linelaw\"))");
}

TEST_CASE("attributes of the patient and of the line") {
    CHECK(item("patient\n age : age 0 days .. 120 years\n chg_sensitivity : flag") ==
          "(patient (attribute age age (range 0 days 120 years)) (attribute chg_sensitivity flag))");
    CHECK(item("line\n kind : one of picc, port") == "(line (attribute kind one-of picc port))");
}

TEST_CASE("types of attributes") {
    CHECK(attribute("a : flag") == "a flag");
    CHECK(attribute("a : one of x, y") == "a one-of x y");
    CHECK(attribute("a : count 1 .. 5") == "a count (range 1 5)");
    CHECK(attribute("a : number 0.5 .. 2.5") == "a number (range 0.5 2.5)");
    CHECK(attribute("a : percent 0 % .. 100 %") == "a percent (range 0 % 100 %)");
    CHECK(attribute("a : age 0 days .. 120 years") == "a age (range 0 days 120 years)");
    CHECK(attribute("a : length 0 cm .. 60 cm in cm") == "a length (range 0 cm 60 cm) (in cm)");
    CHECK(attribute("a : duration 0 s .. 10 min in s") == "a duration (range 0 s 10 min) (in s)");
    CHECK(attribute("a : volume 0 mL .. 1 L in mL") == "a volume (range 0 mL 1 L) (in mL)");
    CHECK(attribute("a : rate 0 mL/h .. 999 mL/h in mL/h") == "a rate (range 0 mL/h 999 mL/h) (in mL/h)");
    CHECK(attribute("a : mass 0 g .. 400 kg in kg") == "a mass (range 0 g 400 kg) (in kg)");
    CHECK(attribute("a : temperature 30 degC .. 109.4 degF in degC") ==
          "a temperature (range 30 degC 109.4 degF) (in degC)");
    CHECK(attribute("a : concentration 0 units/mL .. 5000 units/mL in units/mL") ==
          "a concentration (range 0 units/mL 5000 units/mL) (in units/mL)");
    CHECK(attribute("a : time") == "a time");
    CHECK(attribute("a : text") == "a text");
    CHECK(attribute("a : key") == "a key");
}

TEST_CASE("an attribute may be comparable by another, or a complication") {
    CHECK(attribute("a : length 5 cm .. 80 cm in cm comparable by place") ==
          "a length (range 5 cm 80 cm) (in cm) (comparable-by place)");
    CHECK(attribute("a : flag complication") == "a flag complication");
    CHECK(attribute("a : one of dry, damp complication damp") == "a one-of dry damp (complication damp)");
    CHECK(item("line\n a : flag complication\n b : flag") ==
          "(line (attribute a flag complication) (attribute b flag))");
}

TEST_CASE("a part lives between events, or is one of a number") {
    CHECK(item("part lumen \"Lumen\" line.lumens of them") == "(part lumen \"Lumen\" (count line.lumens))");
    CHECK(item("part infusion \"Infusion\" of lumen from start or restart until stop\n fluid : one of blood, "
               "lipid") ==
          "(part infusion \"Infusion\" (of lumen) (from start restart) (until stop) (attribute fluid one-of "
          "blood lipid))");
}

TEST_CASE("an event has attributes and steps, and may be of a part") {
    CHECK(item("event fever \"Fever\"") == "(event fever \"Fever\")");
    CHECK(item("event set_change of infusion \"Set change\" also after removal complication\n"
               "  reason : one of leak, other\n  steps : scrub, dry, scrub") ==
          "(event set_change \"Set change\" (of infusion) also-after-removal complication"
          " (attribute reason one-of leak other) (steps scrub dry scrub))");
}

TEST_CASE("a state takes values of events, or holds between events") {
    CHECK(item("state dressing from insertion.dressing, dressing_change.dressing") ==
          "(state dressing (sources insertion.dressing dressing_change.dressing))");
    CHECK(item("state setting from transfer.setting initially patient.setting") ==
          "(state setting (sources transfer.setting) (initially patient.setting))");
    CHECK(item("state sedated from sedation_start until sedation_stop or removal") ==
          "(state sedated (from sedation_start) (until sedation_stop removal))");
}

TEST_CASE("roles, and what can never be") {
    CHECK(item("role nurse, provider") == "(role nurse provider)");
    CHECK(item("never line.kind is peripheral and line.lumens more than 2 because \"none is\"") ==
          "(never (and (= line.kind peripheral) (> line.lumens 2)) (because \"none is\"))");
    CHECK(item("never a") == "(never a)");
}

TEST_CASE("what a question is about") {
    CHECK(item("question q \"Q?\" about dressing_change how often for every combination of line.kind, "
               "dressing or unset") ==
          "(question q \"Q?\" (how-often dressing_change) (every line.kind (or-unset dressing)))");
    CHECK(item("question q \"Q?\" about dry_time at dressing_change for adult") ==
          "(question q \"Q?\" (at dry_time dressing_change) (for adult))");
    CHECK(item("question q \"Q?\" about response to fever where high") ==
          "(question q \"Q?\" (response-to (where fever high)))");
    CHECK(item("question q \"Q?\" about escalation migration") ==
          "(question q \"Q?\" (escalation migration))");
}

// ---- 3. Policy
// -----------------------------------------------------------------------------------------------

TEST_CASE("a policy's head") {
    CHECK(whole("policy \"P\"\n edition 4\n in force from 2026-03-01 until 2027-02-28\n review by "
                "2027-01-15\n owner \"O\"\n"
                " governs facility is \"q\" and care_unit is \"u\"\n time zone America/Halifax\n uses "
                "vocabulary \"v\"\n"
                " builds on \"b\"\n measured against \"m\"\n measured against \"n\"\n undocumented counts as "
                "not assessable") ==
          "(policy \"P\" (edition 4) (from 2026-03-01) (until 2027-02-28) (review 2027-01-15) (owner \"O\")"
          " (governs (and (= facility \"q\") (= care_unit \"u\"))) (zone America/Halifax) (uses \"v\") "
          "(builds-on \"b\")"
          " (measured-against \"m\") (measured-against \"n\") (undocumented not-assessable))");
    CHECK(whole("policy \"P\" time zone Etc/GMT+4") == "(policy \"P\" (zone Etc/GMT+4))");
}

TEST_CASE("a source has a publisher") {
    CHECK(item("source s \"S\" by \"B\" year 2011") == "(source s \"S\" (by \"B\") (year 2011))");
}

TEST_CASE("shifts and terms") {
    CHECK(item("shift night from 19:00 to 07:30") == "(shift night 19:00 07:30)");
    CHECK(item("term adult means patient.age at least 18 years") == "(term adult (>= patient.age 18 years))");
}

TEST_CASE("a table's cells are a value, a comparison, a range, one of several, or any") {
    CHECK(item("table t first row wins\n given a | b gives c | d\n row x | any gives 1 s | y\n"
               " row one of x, z | at least 2 months gives 2 s | 3\n row is not x | 1 cm .. 2 cm gives no | "
               "\"t\"") ==
          "(table t first-row-wins (given a b) (gives c d) (row (= x) any (gives 1 s y))"
          " (row (one-of x z) (>= 2 months) (gives 2 s 3)) (row (!= x) (range 1 cm 2 cm) (gives no \"t\")))");
}

// ---- 3. Clauses
// ----------------------------------------------------------------------------------------------

TEST_CASE("a clause is kept line by line, in the order written") {
    CHECK(item("clause a.b \"S.\" priority minor for x must y within 2 h for z") ==
          "(clause a.b \"S.\" (priority minor) (for x) (must (within y 2 h)) (for z))");
    CHECK(item("clause a") == "(clause a)");
}

TEST_CASE("which lines, parts and states a clause is for") {
    CHECK(line("for central and adult") == "(for (and central adult))");
    CHECK(line("for each infusion") == "(for-each infusion)");
    CHECK(line("for each infusion where fluid is lipid or fluid is blood") ==
          "(for-each infusion (or (= fluid lipid) (= fluid blood)))");
    CHECK(line("while dressing is gauze") == "(while (= dressing gauze))");
    CHECK(line("even after removal") == "(even-after-removal)");
}

TEST_CASE("the moments of a clause") {
    CHECK(line("at insertion or dressing_change") == "(at insertion dressing_change)");
    CHECK(line("after site_assessment where dressing_condition is one of damp, loose") ==
          "(after (where site_assessment (one-of dressing_condition damp loose)))");
    CHECK(line("before infusion_start") == "(before infusion_start)");
    CHECK(line("once dwell more than 5 days") == "(once (> dwell 5 days))");
}

TEST_CASE("a where belongs to the event before it, and an or before an event's name ends it") {
    CHECK(line("at a where x is 1 and y or b") == "(at (where a (and (= x 1) y)) b)");
    CHECK(line("at a where x is 1 or y is 2 or b") == "(at (where a (or (= x 1) (= y 2))) b)");
    CHECK(line("at a where x is 1 or b in the last 2 h") ==
          "(at (where a (or (= x 1) (any b (in-the-last 2 h)))))");
    CHECK(line("at a where x is 1 or p and q") == "(at (where a (or (= x 1) (and p q))))");
    CHECK(line("at a where (x or y) or b") == "(at (where a (or x y)) b)");
}

TEST_CASE("the further lines of a clause") {
    CHECK(line("except when a because \"b\"") == "(except a (because \"b\"))");
    CHECK(line("otherwise escalate e") == "(otherwise e)");
    CHECK(line("then escalate e") == "(then e)");
    CHECK(line("overrides a, b.c") == "(overrides a b.c)");
    CHECK(line("priority critical") == "(priority critical)");
    CHECK(line("source s") == "(source s)");
    CHECK(line("source s \"place\" category \"IB\"") == "(source s \"place\" (category \"IB\"))");
    CHECK(line("reason \"r\"") == "(reason \"r\")");
    CHECK(line("advice \"a\"") == "(advice \"a\")");
    CHECK(line("departs from s because \"b\"") == "(departs s \"b\")");
    CHECK(line("undocumented counts as not met") == "(undocumented not-met)");
}

TEST_CASE("a source line and a source that is declared are told apart by `by`") {
    CHECK(item("clause c\n source s \"place\"\nsource s \"S\" by \"B\"") ==
          "(clause c (source s \"place\")) (source s \"S\" (by \"B\"))");
}

// ---- 3. Demands
// ----------------------------------------------------------------------------------------------

TEST_CASE("at least every") {
    CHECK(must("e at least every 7 days") == "(at-least-every e 7 days)");
    CHECK(must("e every 7 days") == "(at-least-every e 7 days)");
    CHECK(must("e or f at least every 7 days grace 12 h") == "(at-least-every e f 7 days (grace 12 h))");
    CHECK(must("e at least every 7 days counted anew") == "(at-least-every e 7 days counted-anew)");
    CHECK(
        must("e at least every 7 days no more often than every 96 h unless event.reason is leak grace 1 h") ==
        "(at-least-every e 7 days (shortest 96 h) (unless (= event.reason leak)) (grace 1 h))");
    CHECK(must("e where x at least every 2 h") == "(at-least-every (where e x) 2 h)");
}

TEST_CASE("no more often than every") {
    CHECK(must("e no more often than every 96 h") == "(no-more-often e 96 h)");
    CHECK(must("e no more often than every 96 h unless x or y") ==
          "(no-more-often e 96 h (unless (or x y)))");
}

TEST_CASE("each calendar day and each shift") {
    CHECK(must("e each calendar day") == "(each-calendar-day e)");
    CHECK(must("e at least 2 times each shift") == "(each-shift e (times 2))");
    CHECK(must("e where x at least 2 times each shift") == "(each-shift (where e x) (times 2))");
}

TEST_CASE("within") {
    CHECK(must("e within 2 h grace 30 min") == "(within e 2 h (grace 30 min))");
    CHECK(must("e within the same shift") == "(within e same-shift)");
    CHECK(must("e within the next shift") == "(within e next-shift)");
    CHECK(must("e within the same calendar day") == "(within e same-calendar-day)");
    CHECK(must("e within 2 h either side") == "(either-side e 2 h)");
}

TEST_CASE("have had") {
    CHECK(must("have had e") == "(have-had e)");
    CHECK(must("have had e or f in the last 2 h since last g") ==
          "(have-had e f (in-the-last 2 h) (since-last g))");
}

TEST_CASE("a condition as a demand") {
    CHECK(must("dry_time at least t.dry_time") == "(holds (>= dry_time t.dry_time))");
    CHECK(must("x at least 2 times y") == "(holds (>= x (times 2 y)))");
    CHECK(must("not x is 1") == "(holds (not (= x 1)))");
    CHECK(must("not (x)") == "(holds (not x))");
    CHECK(must("x and not y") == "(holds (and x (not y)))");
    CHECK(must("not x and y") == "(holds (and (not x) y))");
    CHECK(must("e in the last 2 h") == "(holds (any e (in-the-last 2 h)))");
    CHECK(must("e where (f) in the last 2 h") == "(holds (any (where e f) (in-the-last 2 h)))");
}

TEST_CASE("documentation and steps") {
    CHECK(must("document a, b") == "(document a b)");
    CHECK(must("follow steps a, b, a") == "(steps a b a)");
    CHECK(must("follow steps a, b in order") == "(steps-in-order a b)");
}

TEST_CASE("what must not happen, or not so often") {
    CHECK(must("not e where x is 1") == "(forbid (where e (= x 1)))");
    CHECK(must("not e or f") == "(forbid e f)");
    CHECK(must("e at most 3 times in 24 h") == "(at-most e 3 24 h)");
}

TEST_CASE("should, and leaving a question to judgement") {
    CHECK(line("should e within 2 h") == "(should (within e 2 h))");
    CHECK(line("leaves q to judgement because \"b\"") == "(leaves q (because \"b\"))");
    CHECK(line("leaves q to judgement") == "(leaves q)");
}

// ---- 3. Conditions and expressions
// ---------------------------------------------------------------------------

TEST_CASE("and binds more tightly than or, not more tightly than and") {
    CHECK(condition("a or b and not c or d") == "(or a (and b (not c)) d)");
    CHECK(condition("(a or b) and c") == "(and (or a b) c)");
    CHECK(condition("not (a or b)") == "(not (or a b))");
    CHECK(condition("not not a") == "(not (not a))");
    CHECK(condition("not a is b") == "(not (= a b))");
}

TEST_CASE("documented and undocumented attributes") {
    CHECK(condition("dry_time is documented") == "(documented dry_time)");
    CHECK(condition("event.dry_time is not documented") == "(undocumented event.dry_time)");
}

TEST_CASE("events in a window") {
    CHECK(condition("refusal in the last 12 h") == "(any refusal (in-the-last 12 h))");
    CHECK(condition("refusal where refused is x in the last 12 h and y") ==
          "(and (any (where refusal (= refused x)) (in-the-last 12 h)) y)");
    CHECK(condition("any of a, b where x is 1, c in the last 2 h") ==
          "(any a (where b (= x 1)) c (in-the-last 2 h))");
    CHECK(condition("no a in the last 2 h") == "(no a (in-the-last 2 h))");
    CHECK(condition("no a or b in the last 2 h or c") == "(or (no a b (in-the-last 2 h)) c)");
    CHECK(condition("no any of a, b in the last 2 h") == "(no a b (in-the-last 2 h))");
    CHECK(condition("a since last b or c") == "(any a (since-last b c))");
    CHECK(condition("a since b or c is 1") == "(or (any a (since b)) (= c 1))");
    CHECK(condition("a since b or c in the last 2 h") == "(or (any a (since b)) (any c (in-the-last 2 h)))");
    CHECK(condition("a in the last 2 h since last b") == "(any a (in-the-last 2 h) (since-last b))");
}

TEST_CASE("some part, and no part") {
    CHECK(condition("any infusion") == "(any-part infusion)");
    CHECK(condition("any infusion where fluid is lipid and x") ==
          "(and (any-part infusion (= fluid lipid)) x)");
    CHECK(condition("any infusion where (fluid is lipid and x)") ==
          "(any-part infusion (and (= fluid lipid) x))");
    CHECK(condition("no infusion or x") == "(or (no-part infusion) x)");
}

TEST_CASE("expressions") {
    CHECK(condition("dwell more than 5 days") == "(> dwell 5 days)");
    CHECK(condition("time since flush more than 8 h") == "(> (time-since flush) 8 h)");
    CHECK(condition("time since flush or blood_draw more than 8 h") ==
          "(> (time-since flush blood_draw) 8 h)");
    CHECK(condition("count of a or b in the last 24 h at least 3") ==
          "(>= (count-of a b (in-the-last 24 h)) 3)");
    CHECK(condition("sum of flush.volume since last x at least 3 mL") ==
          "(>= (sum-of flush volume (since-last x)) 3 mL)");
    CHECK(condition("difference of a and line.b more than 2 cm") == "(> (difference a line.b) 2 cm)");
    CHECK(condition("change in length since insertion more than 2 cm") == "(> (change length) 2 cm)");
    CHECK(condition("rise in x since last a more than 2 cm") == "(> (rise x (since-last a)) 2 cm)");
    CHECK(condition("fall in x since a more than 2 cm") == "(> (fall x (since-last a)) 2 cm)");
    CHECK(condition("time from scrub to dry at least 30 s") == "(>= (step-time scrub dry) 30 s)");
    CHECK(condition("time in scrub at least 30 s") == "(>= (step-in scrub) 30 s)");
    CHECK(condition("a at least 2 times line.b") == "(>= a (times 2 line.b))");
    CHECK(condition("t.column is x") == "(= t.column x)");
}

// ---- 3. Ladders, bundles, layers
// -----------------------------------------------------------------------------

TEST_CASE("a ladder has steps and holds") {
    CHECK(
        item("escalation e \"S.\"\n first notify a or b within 1 h\n then notify c within 30 min if not "
             "acknowledged within 20 min\n"
             " no new x or y until z") ==
        "(escalation e \"S.\" (step a b 1 h) (step c 30 min (unacknowledged 20 min)) (hold x y (until z)))");
}

TEST_CASE("a bundle is counted each day, shift, line or event") {
    CHECK(item("bundle b \"B\" of a, c.d each insertion or x") ==
          "(bundle b \"B\" (of a c.d) (each insertion x))");
    CHECK(item("bundle b \"B\" of a each calendar day") == "(bundle b \"B\" (of a) each-calendar-day)");
    CHECK(item("bundle b \"B\" of a each shift") == "(bundle b \"B\" (of a) each-shift)");
    CHECK(item("bundle b \"B\" of a each line") == "(bundle b \"B\" (of a) each-line)");
}

TEST_CASE("layers replace, drop, set aside and accept") {
    CHECK(item("replace clause c \"S.\" must e within 2 h") ==
          "(replace (clause c \"S.\" (must (within e 2 h))))");
    CHECK(item("replace table t given a gives b row any gives 1") ==
          "(replace (table t (given a) (gives b) (row any (gives 1))))");
    CHECK(item("replace term t means x") == "(replace (term t x))");
    CHECK(item("replace escalation e \"S.\" first notify a within 1 h") ==
          "(replace (escalation e \"S.\" (step a 1 h)))");
    CHECK(item("replace question q \"Q?\" about e how often") ==
          "(replace (question q \"Q?\" (how-often e)))");
    CHECK(item("drop clause c.d because \"b\"") == "(drop c.d \"b\")");
    CHECK(item("set aside question q for x because \"b\"") == "(set-aside q (for x) \"b\")");
    CHECK(item("accept gap.question for q, r because \"b\"") == "(accept gap.question q r \"b\")");
    CHECK(item("accept gap.shift because \"b\"") == "(accept gap.shift \"b\")");
}

// ---- 3. Examples
// ---------------------------------------------------------------------------------------------

TEST_CASE("an example's line, patient and events") {
    CHECK(example("line kind picc, lumens 2\n day 0 08:00 insertion\n day 12 9:05 set_change infusion "
                  "\"i1\", reason leak") ==
          "(line (= kind picc) (= lumens 2)) (day 0 08:00 insertion) (day 12 09:05 set_change (= infusion "
          "\"i1\") (= reason leak))");
    CHECK(example("patient age 54 years, a yes, b no, c") ==
          "(patient (= age 54 years) (= a yes) (= b no) (= c))");
}

TEST_CASE("an example's steps stand in parentheses") {
    CHECK(example("day 0 08:00 e steps (a, b at 08:00, c from 08:01 to 08:02), x 3 cm") ==
          "(day 0 08:00 e (= x 3 cm) (steps a (step b (at 08:00)) (step c (from 08:01) (to 08:02))))");
}

TEST_CASE("what an example begins on, is known until, and expects") {
    CHECK(example("on 2026-04-01\n observed from day 1 00:00\n until day 9 10:00\n expect a.b late 2 times\n"
                  " expect e step 2 no longer due\n expect c not met") ==
          "(on 2026-04-01) (from 1 00:00) (until 9 10:00) (expect a.b late (times 2)) (expect e (step 2) no "
          "longer due)"
          " (expect c not met)");
}
