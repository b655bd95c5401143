// What people are told of the files that records were to be read from: how many are read, which are not and
// why, and which hold something else.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "runtime/input_files.hpp"
#include "runtime/records.hpp"
#include "runtime/result.hpp"

namespace linelaw::compiler::cli {

// Empty where one file was given and is read.
std::string input_notes(const runtime::InputFiles& inputs);

// The files that these name, and the notes on standard error unless it is to be quiet.
runtime::Result<std::vector<std::string>> record_files(const std::vector<std::string>& given, bool quiet);

// "not used, as the policy's word list does not have them: events dressing_chnge (2), keys line.lumen". Empty
// where all was used.
std::string not_used_note(const runtime::ReadCounts& seen);

// "a.ndjson: it is one list in brackets; …"
std::string look_note(const std::string& file, std::string_view look);

// Such notes gathered, to be said when nothing else is being shown; of many files, the first.
class LookNotes {
  public:
    void add(const std::string& file, std::string_view look);
    std::string said() const;

  private:
    std::string notes_;
    std::size_t count_ = 0;
};

}  // namespace linelaw::compiler::cli
