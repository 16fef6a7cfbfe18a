// A chosen arrangement written into the day file it was chosen for.
#pragma once

#include <string>

#include "app/choose_day.hpp"
#include "decode/node.hpp"

namespace tillwrap::app {

// `text`, which `document` was read from, with the chosen packs in its holders and bays, every change at its time; in
// TOML a remark says until when each change may wait. All else stays byte for byte. The choice must have assignments.
std::string chosen_day(const std::string& text, const decode::Document& document, const ChooseAnswer& answer);

// Holds `written`, read back, to the day `answer` judged: the same packs in the same places at the same moments, and
// the same draws. Throws decode::InputError where gauge readings would now mean another draw: they count for the packs
// that were in when they were read.
void hold_to_choice(DayFile written, const ChooseAnswer& answer);

}  // namespace tillwrap::app
