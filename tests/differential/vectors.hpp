// The hand-worked vectors of tests/conformance/vectors: examples with what stands in their comments, and
// records.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "tests/differential/literal.hpp"

namespace linelaw::literal {

// What a vector says about one clause, ladder step or bundle.
struct Expected {
    std::string id;
    int step = -1;
    std::string outcome;
    bool instants = false;  // the four that follow are to be compared …
    Instant opened = 0;
    std::optional<Instant> due, limit, closed;
    bool any_opened = false, any_due = false, any_limit = false,
         any_closed = false;  // … but for those not given
};

struct Vector {
    std::string title;
    std::string record;  // JSON
    std::vector<Expected> expected;
    std::vector<std::string> complete;  // ids of which `expected` says everything
};

struct VectorFile {
    std::string path;
    std::string policy;      // text
    std::string vocabulary;  // text
    std::vector<Vector> vectors;
};

// Every .linelaw file of the folder, with its examples and with the records of records.json that name it.
std::vector<VectorFile> read_vectors(const std::string& folder);

// An example of a policy as a record, days counted from `first_day`.
std::string record_of(const grammar::ExampleItem& example, const Book& book);

std::unique_ptr<Book> book_of(const std::string& policy, const std::string& vocabulary);

// What `rows` lack or have too much; empty where all is as expected.
std::string differences(const Vector& vector, const std::vector<Row>& rows);

std::string show(const Row& row);

}  // namespace linelaw::literal
