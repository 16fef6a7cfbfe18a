#include <algorithm>
#include <cmath>

#include "choose/tables.hpp"

namespace tillwrap::choose {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

day::Pack endless(day::Pack pack) {
  constexpr double kEndless = 1.0e4;  // capacities
  pack.params.cell.capacity_as *= kEndless;
  return pack;
}

void Tables::group_bench(int group, const std::vector<Guest>& guests, bool in_company, GroupBench& made) const {
  day::Scenario day = scenario_;
  day.packs.clear();
  // What other seats feed is theirs to look after.
  for (std::size_t d = 0; d < day.devices.size(); ++d) {
    const int fed_by = setup_.group_of_device[d];
    if (fed_by >= 0 && fed_by != group) day.devices[d].need = day::Need::optional;
  }
  std::vector<int> drawn;  // pack of the drawing, by pack of `day`
  const auto add = [&](const day::Pack& pack, int as) {
    day.packs.push_back(pack);
    drawn.push_back(as);
    return static_cast<int>(day.packs.size()) - 1;
  };
  struct Put {
    int holder, pack;
    double at_s;
  };
  std::vector<Put> puts;
  for (const Guest& guest : guests) add(guest.pack, guest.drawn);
  int first_holder = -1;
  for (int h = 0; h < static_cast<int>(day.holders.size()); ++h) {
    day::Holder& holder = day.holders[at(h)];
    const std::vector<day::Slot> own = std::move(holder.slots);
    holder.slots.clear();
    int seat_here = -1;
    for (int s = 0; s < static_cast<int>(setup_.seats.size()); ++s) {
      if (setup_.seats[at(s)].holder == h) seat_here = s;
    }
    const bool of_group = seat_here >= 0 && setup_.seats[at(seat_here)].group == group;
    if (of_group && first_holder < 0) first_holder = h;
    const bool expects =
        std::any_of(guests.begin(), guests.end(), [&](const Guest& guest) { return guest.holder == h; });
    if (of_group && (expects || !in_company)) {
      for (int g = static_cast<int>(guests.size()) - 1; g >= 0; --g) {
        if (guests[at(g)].holder == h) holder.slots.push_back({.pack = g});
      }
      continue;
    }
    if (holder.charger_supply >= 0) {
      for (int g = 0; g < static_cast<int>(guests.size()); ++g) {
        if (guests[at(g)].bay == h) holder.slots.push_back({.pack = g});
      }
      continue;
    }
    if (holder.built_in) {
      for (const day::Slot& slot : own) {
        const int pack = add(scenario_.packs[at(slot.pack)], slot.pack);
        holder.slots.push_back({.pack = pack});
        puts.push_back({h, pack, std::isnan(slot.at_s) ? day.periods.front().from_s : slot.at_s});
      }
      continue;
    }
    int pack = -1;
    double at_s = day.periods.front().from_s;
    if (!own.empty()) {
      pack = add(endless(scenario_.packs[at(own.front().pack)]), own.front().pack);
    } else if (seat_here >= 0 && !setup_.seats[at(seat_here)].kinds.empty()) {
      const int any = setup_.seats[at(seat_here)].kinds.front();
      pack = add(endless(setup_.kinds[at(any)].pack), drawn_pack(seat_here, 0, any));
    }
    if (pack < 0) continue;
    if (seat_here >= 0) at_s = setup_.seats[at(seat_here)].moments.front();
    holder.slots = {{.pack = pack}};
    puts.push_back({h, pack, at_s});
  }
  for (forecast::Piece& piece : forecast::split(day)) {
    const auto here = [](const std::vector<int>& all, int index) {
      const auto found = std::find(all.begin(), all.end(), index);
      return found == all.end() ? -1 : static_cast<int>(found - all.begin());
    };
    if (here(piece.holders, first_holder) < 0) continue;
    for (int h = 0; h < static_cast<int>(day.holders.size()); ++h) made.holder_of.push_back(here(piece.holders, h));
    for (int g = 0; g < static_cast<int>(guests.size()); ++g) made.guest.push_back(here(piece.packs, g));
    for (const Put& put : puts) {
      const int holder = made.holder_of[at(put.holder)];
      if (holder >= 0) made.others.push_back({.holder = holder, .pack = here(piece.packs, put.pack), .at_s = put.at_s});
    }
    for (int& pack : piece.packs) pack = drawn[at(pack)];
    made.piece = std::move(piece);
    break;
  }
  made.fresh = made.piece.day;
  made.model = std::make_unique<forecast::Model>(made.piece.day);
  made.simulator = std::make_unique<forecast::Simulator>(*made.model);
}

}  // namespace tillwrap::choose
