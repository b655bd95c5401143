// The words and the head that most tests share.
#include "tests/compiler/analysis/texts.hpp"

namespace linelaw::compiler::analysis {

std::string vocabulary(const std::string& extra) {
    return R"(vocabulary small
  edition 1

patient
  age             : age 0 days .. 120 years
  setting         : one of icu, ward, outpatient, home
  chg_sensitivity : flag

line
  kind            : one of picc, midline, port
  lumens          : count 1 .. 5
  external_length : length 0 cm .. 60 cm in cm

part lumen    "Lumen" line.lumens of them
part infusion "Infusion" of lumen from infusion_start until infusion_stop
  fluid : one of crystalloid, nutrition, lipid

event insertion "Insertion"
  dressing : one of transparent, gauze

event removal "Removal"

event dressing_change "Dressing change"
  dressing        : one of transparent, gauze
  antiseptic      : one of chg_alcohol, povidone_iodine, alcohol
  scrub_time      : duration 0 s .. 10 min in s
  dry_time        : duration 0 s .. 30 min in s
  external_length : length 0 cm .. 60 cm in cm
  steps           : hand_hygiene, remove_dressing, scrub, dry, apply_dressing, label

event site_assessment "Site assessment"
  dressing_condition : one of intact, damp, loose

event infusion_start "Infusion started"
event infusion_stop "Infusion stopped"
event set_change of infusion "Set change"
  reason : one of routine, leak

event connector_change of lumen "Connector change"
event flush of lumen "Flush"
event fever "Fever"
event culture "Culture"
event refusal "Refusal"
event tip_confirmation "Tip confirmed"
event review "Review"
event transfer "Transfer"
  setting : one of icu, ward, outpatient, home

state dressing from insertion.dressing, dressing_change.dressing
state setting  from transfer.setting initially patient.setting

role nurse, provider, team
)" + extra;
}

std::string policy(const std::string& items) {
    return R"(policy "Quillhaven Regional: a policy to be analysed"
  edition 1
  in force from 2026-03-01 until 2027-02-28
  review by 2027-01-15
  owner "Vascular access committee"
  time zone UTC
  uses vocabulary "small.linelaw"
  undocumented counts as not assessable

)" + items;
}

Compilation from_texts(const std::string& policy_text, const std::string& vocabulary_text) {
    return compile("policy.linelaw", [&](const std::string& path) -> std::optional<std::string> {
        if (path.find("small.linelaw") != std::string::npos) return vocabulary_text;
        if (path.find("policy.linelaw") != std::string::npos) return policy_text;
        return std::nullopt;
    });
}

}  // namespace linelaw::compiler::analysis
