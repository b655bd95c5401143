// One value of a record by its declared type. What does not fit is set aside with a reason that never repeats
// it. Internal to the record readers.
#pragma once

#include <optional>
#include <string>

#include "runtime/episode.hpp"
#include "runtime/instant_reader.hpp"
#include "runtime/records_plan.hpp"
#include "runtime/records_texts.hpp"
#include "runtime/records_walk.hpp"

namespace linelaw::runtime::records {

// Functions that answer bool answer false once the record is spoiled.
class Values {
  public:
    Values(Plan& plan, Walk& walk, Texts& texts) : plan_(plan), walk_(walk), texts_(texts) {}

    bool read(const ValuePlan& plan, Value& out);
    bool age(Age& out);
    bool birth_date(std::optional<CivilDate>& out, bool& was_set_aside);

    // An instant on which the record's order rests: spoils where it is none. Nothing where it is null.
    bool instant(std::optional<Instant>& out);
    // Another instant: set aside where it is none.
    bool instant_or_set_aside(std::string_view name, std::optional<Instant>& out, bool& was_set_aside);
    // A text for people (a facility, a care unit); set aside where it is none.
    bool plain_text(std::string_view name, std::string& out);
    // A name of an event or a part: a text, or a whole number of 64 bits, which names the same as its digits.
    // `none` and set aside otherwise.
    bool name(std::string_view what, std::uint32_t& out);

  private:
    bool number_as_name(std::uint32_t& out, std::string_view& fault);
    bool flag(const ValuePlan& plan, Value& out);
    bool symbol(const ValuePlan& plan, Value& out);
    bool number(const ValuePlan& plan, Value& out);
    bool number_with_unit(const ValuePlan& plan, Value& out);
    bool time_of_day(const ValuePlan& plan, Value& out);
    bool text(const ValuePlan& plan, Value& out);

    // A value that is a text, is not there (null), or is anything else, which is then ignored.
    enum class Given : std::uint8_t { nothing, text, other };
    bool given_text(Given& given, std::string_view& text);
    bool given_instant(std::optional<Instant>& out, std::string_view& fault);

    struct WithUnit {
        double number = 0;
        bool has_number = false;
        std::string_view unit;
        bool has_unit = false;
    };
    bool with_unit(std::string_view name, WithUnit& out);
    void keep_in_range(double number, const Unit& unit, const ValuePlan& plan, std::uint64_t offset,
                       Value& out);
    bool wrong_type(const ValuePlan& plan, Value& out);
    void refuse(const ValuePlan& plan, const char* code, std::string_view what, std::uint64_t offset,
                Value& out);

    Plan& plan_;
    Walk& walk_;
    Texts& texts_;
    InstantReader instants_;
};

// "a number from 0 to 60 in cm", for messages.
std::string expected(const Policy& policy, const Type& type);

}  // namespace linelaw::runtime::records
