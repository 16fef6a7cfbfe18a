#include "track/reading.hpp"

#include <algorithm>

namespace tillwrap::track {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

int local(const std::vector<int>& whole, int index) {
  const auto found = std::find(whole.begin(), whole.end(), index);
  return found == whole.end() ? -1 : static_cast<int>(found - whole.begin());
}

}  // namespace

int inside(const forecast::Piece& piece, const Reading& reading, int index) {
  switch (reading.where) {
    case Where::device_v:
    case Where::device_a:
    case Where::device_meter:
      return local(piece.devices, index);
    case Where::holder_a:
      return local(piece.holders, index);
    case Where::gauge:
      return local(piece.packs, index);
    case Where::supply_a:
      for (const day::Lead& lead : piece.day.leads) {
        if (lead.from == piece.day.supplies[at(index)].port) return index;
      }
      return -1;
  }
  return -1;
}

double value_of(const day::Scenario& day, const forecast::Probe& probe, const Reading& reading, int index) {
  switch (reading.where) {
    case Where::device_v:
      return probe.device_v[at(index)];
    case Where::device_a:
      return probe.device_a[at(index)];
    case Where::device_meter:
      return reading.scale.held(probe.device_v[at(index)]);
    case Where::holder_a:
      return probe.holder_out_a[at(index)];
    case Where::supply_a:
      return probe.supply_a[at(index)];
    case Where::gauge: {
      cell::PackState state{};
      state.cell.charge = probe.charge[at(index)];
      return cell::gauge_fraction(day.packs[at(index)].params, state);
    }
  }
  return 0.0;
}

int count_of(const day::Scenario& day, Where where) {
  switch (where) {
    case Where::device_v:
    case Where::device_a:
    case Where::device_meter:
      return static_cast<int>(day.devices.size());
    case Where::holder_a:
      return static_cast<int>(day.holders.size());
    case Where::supply_a:
      return static_cast<int>(day.supplies.size());
    case Where::gauge:
      return static_cast<int>(day.packs.size());
  }
  return 0;
}

}  // namespace tillwrap::track
