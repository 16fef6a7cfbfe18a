// What was taken out of its holder on the day, put into the day as it stands: nothing is in the holder from that minute
// until something goes in.
#pragma once

#include <string>
#include <vector>

#include "day/scenario.hpp"

namespace tillwrap::app {

// The pack leaves the holder it is in at that moment, by what is fixed by then, otherwise as the day's own plan has it;
// `holder` narrows it down, -1 where the line does not say. Where something took its place already, nothing changes.
// Returns what is odd about it, or nothing: with a holder named that cannot hold it by then, that holder is left empty.
std::string take_out(day::Scenario& day, int pack, int holder, double at_s);

struct LeftEmpty {
  int holder = 0;
  int pack = 0;  // that came out
  double since_s = 0.0;
  int next_pack = -1;  // planned for a fixed time; -1: nothing goes in until a line says so
  double next_s = 0.0;
  std::vector<int> dark;     // devices it feeds that are to run now and have no power
  std::vector<int> running;  // ... that run on from elsewhere
};

// After the day's last line: what goes in within ten minutes was a change; a gap that is over by `now_s` is one hands
// left, and no loss; the holders left are empty. Packs of theirs whose moment the forecast would pick go in no more.
std::vector<LeftEmpty> settle_emptied(day::Scenario& day, double now_s);

// Fills `dark` and `running`, of the day on its usual course; neither where now is past off.
void look_at_emptied(const day::Scenario& day, double now_s, std::vector<LeftEmpty>& emptied);

}  // namespace tillwrap::app
