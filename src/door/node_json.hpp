// A decoded file as JSON, keys in the order written: how a TOML day becomes one the page can edit.
#pragma once

#include "app/report_json.hpp"
#include "decode/node.hpp"

namespace tillwrap::door {

app::Json node_json(const decode::Node& node);

}  // namespace tillwrap::door
