// The machine that figures were measured on, as they say it.
#pragma once

#include <nlohmann/json.hpp>

namespace tillwrap::bench {

// {"cpu": ..., "cores": ..., "system": ...}
nlohmann::ordered_json machine();

}  // namespace tillwrap::bench
