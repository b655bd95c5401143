#include "compiler/cli/worklist.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "runtime/csv.hpp"
#include "runtime/findings.hpp"
#include "runtime/report_html.hpp"
#include "runtime/summary.hpp"

namespace linelaw::compiler::cli {

using runtime::Instant;
using runtime::Task;

namespace {

const std::string caution =
    "A worklist from what is charted. Before acting, " + std::string(runtime::before_acting) + ".";

// "overdue 5 h", "in grace, 2 h left", "due in 3 h"
std::string standing(const Task& task, Instant as_of) {
    if (task.overdue(as_of)) return "overdue " + runtime::Words::lasted(as_of - task.limit);
    if (task.due < as_of) return "in grace, " + runtime::Words::lasted(task.limit - as_of) + " left";
    return "due in " + runtime::Words::lasted(task.due - as_of);
}
// "due 8 February 2027 08:00, grace until 20:00"
std::string until_when(const Task& task, const runtime::Words& words) {
    std::string out = "due " + words.when(task.due);
    if (task.limit != task.due) out += ", grace until " + words.when_beside(task.limit, task.due);
    return out;
}
std::string unit_name(const std::string& unit) {
    return unit.empty() ? "no care unit recorded" : unit;
}
std::size_t overdue_in(const std::vector<Task>& tasks, Instant as_of) {
    return static_cast<std::size_t>(
        std::count_if(tasks.begin(), tasks.end(), [&](const Task& t) { return t.overdue(as_of); }));
}

// What an overdue task of a record that ends earlier says: only that nothing is known of it.
std::string ended_earlier(const std::vector<Task>& tasks, Instant as_of) {
    const auto ended = std::count_if(tasks.begin(), tasks.end(),
                                     [&](const Task& t) { return t.known_until && t.overdue(as_of); });
    if (ended == 0) return "";
    return fmt::format(
        "{} of those overdue {} of records that end before this moment (*): it may have been done since\n",
        ended, ended == 1 ? "is" : "are");
}

}  // namespace

std::string worklist_table(const std::vector<Task>& tasks, const WorklistView& view, bool color) {
    std::string out =
        fmt::format("as of {} ({}): {} overdue, {} more due within {}\n", view.words.when(view.as_of),
                    view.policy.time_zone, overdue_in(tasks, view.as_of),
                    tasks.size() - overdue_in(tasks, view.as_of), view.within);
    out += ended_earlier(tasks, view.as_of);
    const std::string* unit = nullptr;
    bool stale = false;
    for (const Task& task : tasks) {
        if (unit == nullptr || *unit != task.care_unit) {
            out += fmt::format("\n{}{}{}\n", color ? "\x1b[1m" : "", unit_name(task.care_unit),
                               color ? "\x1b[0m" : "");
            unit = &task.care_unit;
        }
        if (task.known_until) stale = true;
        const bool red = color && task.overdue(view.as_of);
        out += fmt::format("  {}{:<26}{} {}  {:<12} {}  ({}, {}){}\n", red ? "\x1b[1;31m" : "",
                           standing(task, view.as_of), red ? "\x1b[0m" : "", until_when(task, view.words),
                           task.episode, task.what, task.item, runtime::priority_name(task.priority),
                           task.known_until ? " *" : "");
    }
    if (stale) out += "\n* the record ends before this moment; what came after it is not known here\n";
    return out + "\n" + caution + "\n";
}

std::string worklist_csv(const std::vector<Task>& tasks, const WorklistView& view) {
    std::string out =
        "care_unit,episode,state,what,item,priority,opened,due,limit,overdue_s,known_until,sentence\r\n";
    for (const Task& task : tasks) {
        for (const std::string& cell :
             {task.care_unit, task.episode, std::string(runtime::state_of(task, view.as_of)), task.what,
              task.item, std::string(runtime::priority_name(task.priority)),
              runtime::write_instant(task.opened), runtime::write_instant(task.due),
              runtime::write_instant(task.limit)})
            runtime::put_cell(out, cell);
        // Never a formula for a spreadsheet: a time that is not past has no overdue.
        runtime::put_cell(out, task.overdue(view.as_of) ? std::to_string((view.as_of - task.limit) /
                                                                         runtime::microseconds_per_second)
                                                        : "");
        runtime::put_cell(out, task.known_until ? runtime::write_instant(*task.known_until) : "");
        runtime::put_cell(out, task.sentence, true);
    }
    return out;
}

std::string worklist_json(const std::vector<Task>& tasks, const WorklistView& view) {
    nlohmann::ordered_json out;
    out["schema"] = "linelaw/due/1";
    out["as_of"] = runtime::write_instant(view.as_of);
    out["within"] = view.within;
    out["policy"] = {{"title", view.policy.title},
                     {"edition", view.policy.edition},
                     {"content_hash", view.policy.content_hash}};
    out["records"] = {{"read", view.records + view.not_read}, {"not_read", view.not_read}};
    out["overdue"] = overdue_in(tasks, view.as_of);
    out["due"] = nlohmann::ordered_json::array();
    for (const Task& task : tasks) out["due"].push_back(runtime::task_json(task, view.as_of));
    return out.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) + "\n";
}

namespace {

std::string unit_section(const std::string& unit, const std::vector<const Task*>& tasks,
                         const WorklistView& view) {
    using runtime::html::escaped;
    std::vector<std::vector<std::string>> rows;
    for (const Task* task : tasks) {
        const bool overdue = task->overdue(view.as_of);
        rows.push_back({"<code>" + escaped(task->episode) + "</code>",
                        fmt::format("{}{}{}", overdue ? "<span class=\"overdue\">" : "<span>",
                                    escaped(standing(*task, view.as_of)), "</span>"),
                        escaped(until_when(*task, view.words)) + (task->known_until ? " *" : ""),
                        escaped(task->what),
                        escaped(task->sentence) + " <code>" + escaped(task->item) + "</code>",
                        std::string(runtime::priority_name(task->priority))});
    }
    return fmt::format("<section><h2>{}</h2>{}</section>\n", escaped(unit_name(unit)),
                       runtime::html::table("Overdue and due in " + unit_name(unit),
                                            {{"Episode", false},
                                             {"Standing", false},
                                             {"Due and in time until", false},
                                             {"What", false},
                                             {"Asked by", false},
                                             {"Priority", false}},
                                            rows));
}

}  // namespace

std::string worklist_html(const std::vector<Task>& tasks, const WorklistView& view) {
    using runtime::html::escaped;
    const std::string title = "Due as of " + view.words.when(view.as_of);
    std::string out = fmt::format(
        "<header><p class=\"eyebrow\">Worklist</p><h1>{}</h1><p class=\"meta\">{}, edition {}, policy "
        "<code>{}</code>. Times are those of {}.</p><p class=\"meta\">{}</p></header><main id=\"main\">",
        escaped(title), escaped(view.policy.title), escaped(view.policy.edition),
        escaped(view.policy.content_hash), escaped(view.policy.time_zone), escaped(caution));
    const std::size_t overdue = overdue_in(tasks, view.as_of);
    out += fmt::format("<p class=\"lead\">{} overdue, {} more due within {}, in {} records.</p>\n", overdue,
                       tasks.size() - overdue, escaped(view.within), view.records);
    if (const std::string ended = ended_earlier(tasks, view.as_of); !ended.empty())
        out += "<p class=\"meta\">" + escaped(ended) + "</p>\n";
    if (view.not_read > 0)
        out += fmt::format("<p class=\"signal\">{} records could not be read and are not in this list.</p>\n",
                           view.not_read);
    for (std::size_t begin = 0; begin < tasks.size();) {
        std::vector<const Task*> of_unit;
        std::size_t end = begin;
        for (; end < tasks.size() && tasks[end].care_unit == tasks[begin].care_unit; ++end)
            of_unit.push_back(&tasks[end]);
        out += unit_section(tasks[begin].care_unit, of_unit, view);
        begin = end;
    }
    if (std::any_of(tasks.begin(), tasks.end(), [](const Task& t) { return t.known_until.has_value(); }))
        out +=
            "<p class=\"meta\">* The record ends before this moment; what came after it is not known "
            "here.</p>\n";
    return runtime::html::page(title, out + "</main>");
}

}  // namespace linelaw::compiler::cli
