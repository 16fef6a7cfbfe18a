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
  Turn turn;
  turn_of(piece, luck, turn);
  put(turn, fresh, now);
}

void Draw::turn_of(const forecast::Piece& piece, const Luck& luck, Turn& turn) const {
  const auto own = [&](std::uint32_t stream) { return normal_quantile(hashed_uniform(luck.day, stream, seed_)); };
  turn.load.resize(piece.devices.size());
  for (std::size_t d = 0; d < turn.load.size(); ++d) {
    turn.load[d] = spread_.load * luck.load + spread_.load_each * own(static_cast<std::uint32_t>(piece.devices[d]));
  }
  turn.capacity.resize(piece.packs.size());
  for (std::size_t p = 0; p < turn.capacity.size(); ++p) {
    const int whole = piece.packs[p];
    // Half of the common variance goes with all packs, half with those of one kind and age.
    const double group_n = own(10000U + static_cast<std::uint32_t>(group_of_pack_[at(whole)]));
    const double own_n = own(20000U + static_cast<std::uint32_t>(whole));
    const double common_n = std::sqrt(0.5) * (luck.capacity + group_n);
    turn.capacity[p] = spread_.capacity * common_n + spread_.capacity_each * own_n;
  }
  turn.resistance = spread_.resistance * luck.resistance;
  turn.start_charge = spread_.start_charge * luck.start_charge;
  turn.air_k = spread_.air_k * luck.air;
  turn.bag = spread_.bag * luck.bag;
}

void Draw::put(const Turn& turn, const day::Scenario& fresh, day::Scenario& now) {
  const double resistance = maths::exp(turn.resistance);
  const double bag = maths::exp(turn.bag);
  for (std::size_t d = 0; d < now.devices.size(); ++d) {
    now.devices[d].scale = fresh.devices[d].scale * maths::exp(turn.load[d]);
  }
  for (std::size_t p = 0; p < now.packs.size(); ++p) {
    const cell::CellParams& from = fresh.packs[p].params.cell;
    cell::CellParams& cell = now.packs[p].params.cell;
    cell.capacity_as = from.capacity_as * maths::exp(turn.capacity[p]);
    cell.electrolyte_ohm = from.electrolyte_ohm * resistance;
    cell.rc_ohm = from.rc_ohm * resistance;
    cell.exchange_a = from.exchange_a / resistance;
    cell.exchange_s = from.exchange_s * resistance;
    now.packs[p].start_charge = std::max(0.0, fresh.packs[p].start_charge - turn.start_charge);
  }
  for (std::size_t k = 0; k < now.periods.size(); ++k) now.periods[k].air_k = fresh.periods[k].air_k + turn.air_k;
  for (std::size_t k = 0; k < now.places.size(); ++k) now.places[k].cooling_w_k = fresh.places[k].cooling_w_k * bag;
}

double Draw::load_sigma() const {
  return std::sqrt(spread_.load * spread_.load + spread_.load_each * spread_.load_each);
}

double Draw::capacity_sigma() const {
  return std::sqrt(spread_.capacity * spread_.capacity + spread_.capacity_each * spread_.capacity_each);
}

std::array<double, kCommonDimensions> Draw::badness(const Turn& turn) const {
  const auto in_sigmas = [](double value, double sigma) { return sigma > 0.0 ? value / sigma : 0.0; };
  const double heaviest = turn.load.empty() ? 0.0 : *std::max_element(turn.load.begin(), turn.load.end());
  const double smallest = turn.capacity.empty() ? 0.0 : *std::min_element(turn.capacity.begin(), turn.capacity.end());
  return {in_sigmas(heaviest, load_sigma()),
          in_sigmas(-smallest, capacity_sigma()),
          in_sigmas(turn.resistance, spread_.resistance),
          in_sigmas(turn.start_charge, spread_.start_charge),
          in_sigmas(-turn.air_k, spread_.air_k),
          in_sigmas(turn.bag, spread_.bag)};
}

void Draw::turn_at(const std::array<double, kCommonDimensions>& badness, Turn& turn) const {
  std::fill(turn.load.begin(), turn.load.end(), badness[kLoad] * load_sigma());
  std::fill(turn.capacity.begin(), turn.capacity.end(), -badness[kCapacity] * capacity_sigma());
  turn.resistance = badness[kResistance] * spread_.resistance;
  turn.start_charge = badness[kStartCharge] * spread_.start_charge;
  turn.air_k = -badness[kAir] * spread_.air_k;
  turn.bag = badness[kBag] * spread_.bag;
}

}  // namespace tillwrap::odds
