// A run of days asked about: it brings its day files along.
#pragma once

#include "app/report_json.hpp"
#include "decode/table_reader.hpp"
#include "odds/work.hpp"

namespace tillwrap::door {

// run (docs/door.md). Throws decode::InputError.
app::Json run_question(decode::TableReader& question, const odds::Tell& tell);

}  // namespace tillwrap::door
