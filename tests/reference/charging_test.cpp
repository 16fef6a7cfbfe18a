// Charging against SciPy: the same equations written out and integrated by tests/reference/charge.py.
#include "cell/charging.hpp"

#include <gtest/gtest.h>
#include <unistd.h>

#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "catalogue/catalogue.hpp"
#include "forecast/bench_run.hpp"

namespace tillwrap::reference {
namespace {

using Json = nlohmann::json;

struct Case {
  std::string name;
  cell::PackParams pack;
  cell::ChargeLaw law;
  double charge = 0.1;
  double start_k = 293.15;
};

Json points(const Curve& curve) {
  Json out = Json::array();
  if (curve.empty()) return out;
  for (std::size_t k = 0; k < curve.knots_x().size(); ++k) out.push_back({curve.knots_x()[k], curve.knots_y()[k]});
  return out;
}

const char* key(cell::ChargeWay way) {
  switch (way) {
    case cell::ChargeWay::by_coulombs:
      return "by_coulombs";
    case cell::ChargeWay::three_stages:
      return "three_stages";
    case cell::ChargeWay::constant_volts:
      break;
  }
  return "constant_volts";
}

Json as_json(const Case& one) {
  const cell::CellParams& c = one.pack.cell;
  return {{"name", one.name},
          {"capacity_as", c.capacity_as},
          {"ocv", points(c.ocv)},
          {"lag_gain", c.lag_gain},
          {"lag_rate", c.lag_rate},
          {"surface_gain", c.surface_gain},
          {"diffusion_s", c.diffusion_s},
          {"diffusion_activation_k", c.diffusion_activation_k},
          {"diffusion_shape", points(c.diffusion_shape)},
          {"cold_tail", c.cold_tail},
          {"cold_tail_width", c.cold_tail_width},
          {"series_ohm", c.series_ohm},
          {"electrolyte_ohm", c.electrolyte_ohm},
          {"electrolyte_activation_k", c.electrolyte_activation_k},
          {"resistance_shape", points(c.resistance_shape)},
          {"exchange_a", c.exchange_a},
          {"exchange_activation_k", c.exchange_activation_k},
          {"exchange_alpha", c.exchange_alpha},
          {"exchange_shape", points(c.exchange_shape)},
          {"exchange_electrodes", c.exchange_electrodes},
          {"exchange_s", c.exchange_s},
          {"rc_ohm", c.rc_ohm},
          {"rc_s", c.rc_s},
          {"charge_efficiency", c.charge_efficiency},
          {"series", one.pack.series},
          {"parallel", one.pack.parallel},
          {"weak", one.pack.weak_fraction},
          {"electronics_ohm", one.pack.electronics_ohm},
          {"heat_capacity_j_k", one.pack.heat_capacity_j_k},
          {"cooling_w_k", one.pack.cooling_w_k},
          {"way", key(one.law.way)},
          {"current_a", one.law.current_a},
          {"end_v", one.law.end_v},
          {"end_a", one.law.end_a},
          {"put_in", one.law.put_in},
          {"taper_v", one.law.taper_v},
          {"charge", one.charge},
          {"start_k", one.start_k},
          {"around_k", one.start_k}};
}

Json by_scipy(const std::vector<Case>& cases) {
  std::string in = (std::filesystem::temp_directory_path() / "tillwrap-charge-XXXXXX").string();
  const int file = mkstemp(in.data());
  if (file < 0) throw std::runtime_error("no temporary file");
  close(file);
  Json all = Json::array();
  for (const Case& one : cases) all.push_back(as_json(one));
  std::ofstream(in) << all.dump();
  const std::string command =
      std::string(TILLWRAP_PYTHON) + " '" + TILLWRAP_SOURCE_DIR + "/tests/reference/charge.py' < '" + in + "'";
  std::FILE* pipe = popen(command.c_str(), "r");
  std::string out;
  char buffer[4096];
  for (std::size_t n = 0; pipe != nullptr && (n = std::fread(buffer, 1, sizeof buffer, pipe)) > 0;)
    out.append(buffer, n);
  const int code = pipe == nullptr ? -1 : pclose(pipe);
  std::filesystem::remove(in);
  if (code != 0) throw std::runtime_error("charge.py ended with " + std::to_string(code));
  return Json::parse(out);
}

cell::PackParams pack_of(const char* id, double health = 1.0) {
  const catalogue::Catalogue& known = catalogue::builtin();
  const catalogue::PackKind* kind = known.pack(id);
  return catalogue::pack_params(
      *kind, *known.cell(kind->cell),
      {.capacity_fraction = health, .resistance_factor = cell::prior_resistance_factor(health)});
}

std::vector<Case> cases() {
  const double old_taper_v = cell::kTaper_v * cell::prior_resistance_factor(0.85);
  cell::PackParams weak = pack_of("smart-pack-14v4-98wh", 0.85);
  weak.weak_fraction = 0.93;
  const auto lithium = [](double amps, double volts, double share, double taper_v = cell::kTaper_v) {
    return cell::ChargeLaw{.current_a = amps, .end_v = volts, .end_a = share * amps, .taper_v = taper_v};
  };
  return {
      {"nca at 1C to C/58", forecast::single_cell(catalogue::builtin().cell("nca")->params), lithium(2.9, 4.2, 0.017),
       0.02, 298.15},
      {"nmc at C/2", forecast::single_cell(catalogue::builtin().cell("nmc")->params), lithium(1.35, 4.2, 0.05)},
      {"98 Wh", pack_of("smart-pack-14v4-98wh"), lithium(3.0, 16.8, 0.05)},
      {"98 Wh, old with a weak cell, cool", weak, lithium(3.0, 16.8, 0.05, old_taper_v), 0.25, 278.15},
      {"98 Wh, its last third", pack_of("smart-pack-14v4-98wh"), lithium(2.0, 16.8, 0.1), 0.66},
      {"7.2 V", pack_of("slide-on-7v2-large"), lithium(2.0, 8.4, 0.05)},
      {"lfp", pack_of("lfp-12v8"), lithium(4.0, 14.4, 0.05)},
      {"nickel, quick", pack_of("aa-nimh-x4"), {.way = cell::ChargeWay::by_coulombs, .current_a = 0.5, .put_in = 1.25}},
      {"lead",
       pack_of("vrla-12v-7ah"),
       {.way = cell::ChargeWay::three_stages, .current_a = 1.5, .end_v = 14.6, .end_a = 0.075}},
  };
}

// Time and coulombs within half a per cent, energy too; the end charge within half a per cent of the pack.
TEST(Charging, AgreesWithSciPy) {
  const std::vector<Case> all = cases();
  const Json reference = by_scipy(all);
  ASSERT_EQ(reference.size(), all.size());
  for (std::size_t k = 0; k < all.size(); ++k) {
    const Case& one = all[k];
    const Json& other = reference[k];
    const cell::ChargeRun run =
        cell::charge(one.pack, one.law, cell::rested(one.pack, one.charge, one.start_k), {.surround_k = one.start_k});
    ASSERT_TRUE(run.full) << one.name;
    const auto off = [&](double own, const char* name) { return own / other[name].get<double>() - 1.0; };
    std::printf("[ charge   ] %-34s %7.1f min %+.3f %%, %6.3f Ah %+.3f %%, energy %+.3f %%, warmest %+.2f K\n",
                one.name.c_str(), run.duration_s / 60.0, 100.0 * off(run.duration_s, "duration_s"),
                run.put_in_as / 3600.0, 100.0 * off(run.put_in_as, "put_in_as"), 100.0 * off(run.put_in_j, "put_in_j"),
                run.warmest_k - other["warmest_k"].get<double>());
    EXPECT_NEAR(off(run.duration_s, "duration_s"), 0.0, 0.005) << one.name;
    EXPECT_NEAR(off(run.put_in_as, "put_in_as"), 0.0, 0.005) << one.name;
    EXPECT_NEAR(off(run.put_in_j, "put_in_j"), 0.0, 0.005) << one.name;
    EXPECT_NEAR(run.end.cell.charge, other["charge"].get<double>(), 0.005) << one.name;
    EXPECT_NEAR(run.warmest_k, other["warmest_k"].get<double>(), 0.2) << one.name;
  }
}

}  // namespace
}  // namespace tillwrap::reference
