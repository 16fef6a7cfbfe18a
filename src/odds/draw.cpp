#include "odds/draw.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <string>
#include <utility>

#include "odds/samples.hpp"
#include "quantity/maths.hpp"

namespace tillwrap::odds {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

double normal_at(std::uint32_t day, int dimension, std::uint64_t seed) {
  return normal_quantile(scrambled_sobol(day, dimension, seed));
}

}  // namespace

Draw::Draw(const day::Scenario& whole, const Spread& spread, std::uint64_t seed) : spread_(spread), seed_(seed) {
  std::map<std::pair<std::string, long>, int> groups;
  for (const day::Pack& pack : whole.packs) {
    const long age = std::lround(1000.0 * pack.params.cell.capacity_as / std::max(pack.params.cell.rated_ah, 1e-9));
    const auto group = groups.emplace(std::make_pair(pack.mount, age), static_cast<int>(groups.size())).first;
    group_of_pack_.push_back(group->second);
  }
}

Luck Draw::luck_of(std::uint32_t day) const {
  return {.load = normal_at(day, kLoad, seed_),
          .capacity = normal_at(day, kCapacity, seed_),
          .resistance = normal_at(day, kResistance, seed_),
          .start_charge = std::fabs(normal_at(day, kStartCharge, seed_)),
          .air = normal_at(day, kAir, seed_),
          .bag = normal_at(day, kBag, seed_),
          .day = day};
}

void Draw::apply(const forecast::Piece& piece, const day::Scenario& fresh, const Luck& luck, day::Scenario& now) const {
  const auto own = [&](std::uint32_t stream, double bad) {
    return luck.worst ? bad : normal_quantile(hashed_uniform(luck.day, stream, seed_));
  };
  const auto lognormal = [](double sigma, double n) { return maths::exp(sigma * n); };
  const double load = lognormal(spread_.load, luck.load);
  const double resistance = lognormal(spread_.resistance, luck.resistance);
  const double short_charge = spread_.start_charge * luck.start_charge;
  const double air_k = spread_.air_k * luck.air;
  const double bag = lognormal(spread_.bag, luck.bag);
  for (std::size_t d = 0; d < now.devices.size(); ++d) {
    const auto stream = static_cast<std::uint32_t>(piece.devices[d]);
    now.devices[d].scale = fresh.devices[d].scale * load * lognormal(spread_.load_each, own(stream, kWorst));
  }
  for (std::size_t p = 0; p < now.packs.size(); ++p) {
    const int whole = piece.packs[p];
    // Half of the common variance goes with all packs, half with those of one kind and age.
    const double group_n = own(10000U + static_cast<std::uint32_t>(group_of_pack_[at(whole)]), -kWorst);
    const double own_n = own(20000U + static_cast<std::uint32_t>(whole), -kWorst);
    const double common_n = std::sqrt(0.5) * (luck.capacity + group_n);
    const cell::CellParams& from = fresh.packs[p].params.cell;
    cell::CellParams& cell = now.packs[p].params.cell;
    cell.capacity_as =
        from.capacity_as * lognormal(spread_.capacity, common_n) * lognormal(spread_.capacity_each, own_n);
    cell.electrolyte_ohm = from.electrolyte_ohm * resistance;
    cell.rc_ohm = from.rc_ohm * resistance;
    cell.exchange_a = from.exchange_a / resistance;
    cell.exchange_s = from.exchange_s * resistance;
    now.packs[p].start_charge = std::max(0.0, fresh.packs[p].start_charge - short_charge);
  }
  for (std::size_t k = 0; k < now.periods.size(); ++k) now.periods[k].air_k = fresh.periods[k].air_k + air_k;
  for (std::size_t k = 0; k < now.places.size(); ++k) now.places[k].cooling_w_k = fresh.places[k].cooling_w_k * bag;
}

}  // namespace tillwrap::odds
