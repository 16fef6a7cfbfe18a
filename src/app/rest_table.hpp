// The table of a rest, in a day file and in a run file.
#pragma once

#include <string>

#include "decode/table_reader.hpp"
#include "kit/inventory.hpp"

namespace tillwrap::app {

// Everything but the place, which is left to the caller as text (empty: not said). Does not finish the reader.
kit::Rest read_rest_table(decode::TableReader& reader, std::string& place);

}  // namespace tillwrap::app
