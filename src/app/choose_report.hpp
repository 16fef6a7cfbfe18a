// `tillwrap choose` in words and as JSON.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "app/choose_day.hpp"

namespace tillwrap::app {

// Why: the answer's sentences, most important first.
std::vector<std::string> choose_reasons(const ChooseAnswer& answer);

std::string choose_text(const ChooseAnswer& answer);
std::string choose_json(const ChooseAnswer& answer);  // schema/choose.schema.json
nlohmann::ordered_json choose_object(const ChooseAnswer& answer);

}  // namespace tillwrap::app
