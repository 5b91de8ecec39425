// The fields of an order in words: one list makes the flags of the command line, what is shown, and what is
// checked.
#pragma once

#include <string>
#include <vector>

#include "base/result.h"
#include "record/order.h"

namespace samelight::job {

struct OrderField {
  std::string name;  // lower case, words joined by '-'
  std::string kind;  // what is written behind it, "PX"; several words of a choice are joined by '|'
  std::string help;  // one sentence
};

// Every field but the order's name, in the order in which they are told.
const std::vector<OrderField>& OrderFields();

// Sets one field from a word. kInvalidArgument says what is possible instead; `order` then stays as it was.
Status SetField(record::Order& order, const std::string& field, const std::string& word);
// The field as SetField() would take it; empty when there is no such field.
std::string FieldText(const record::Order& order, const std::string& field);

// What differs from a plain order, "format tiff16, long-side 2048"; "as usual" when nothing does.
std::string Told(const record::Order& order);

}  // namespace samelight::job
