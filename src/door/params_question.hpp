// A parameter file on its way into a day.
#pragma once

#include "app/report_json.hpp"
#include "decode/table_reader.hpp"

namespace tillwrap::door {

// params (docs/door.md). Throws decode::InputError.
app::Json params_question(decode::TableReader& question);

}  // namespace tillwrap::door
