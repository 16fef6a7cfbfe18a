// A chosen arrangement written into the day file it was chosen for.
#pragma once

#include <string>

#include "app/choose_day.hpp"
#include "app/measured.hpp"
#include "decode/node.hpp"

namespace tillwrap::app {

// `text`, which `document` was read from, with the chosen packs in its holders and bays, every change at its time; in
// TOML a remark says until when each change may wait. Gauge readings named in `as_draws` become the draws they amount
// to. All else stays byte for byte. The choice must have assignments.
std::string chosen_day(const std::string& text, const decode::Document& document, const ChooseAnswer& answer,
                       const std::vector<MeasuredOutcome>& as_draws = {});

// Holds `written`, read back, to the day `answer` judged: the same packs in the same places at the same moments, and
// the same draws. False where gauge readings would now mean another draw: they count for the packs that were in when
// they were read.
bool same_as_chosen(DayFile written, const ChooseAnswer& answer);

// What was read on the packs as they were planned, for the answer's notes.
std::string as_draw_words(const MeasuredOutcome& gauge, const day::Scenario& day);

}  // namespace tillwrap::app
