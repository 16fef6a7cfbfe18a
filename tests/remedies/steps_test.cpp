// Steps as changes of a day file: copper by the standard's formula, packs that never hurt.
#include <gtest/gtest.h>

#include <algorithm>

#include "app/day_edit.hpp"
#include "app/measured.hpp"
#include "app/remedies.hpp"

namespace tillwrap::app {
namespace {

const char* const kDay = R"(format = 1
[day]
call = "08:00"
wrap = "18:00"
[[pack]]
labels = ["P1", "P2"]
kind = "smart-pack-14v4-98wh"
health = "80 %"
[[holder]]
name = "cup"
kind = "cup-smart-14v4"
in = "box"
packs = ["P1", "P2"]
[[box]]
name = "box"
kind = "box-1cup"
[[device]]
name = "recorder"
kind = "recorder-mixer-8"
draw = "24 W"
[[wire]]
from = "box.out-1"
to = "recorder.dc"
length_m = 3
wire = "AWG 22"
contacts = "worn"
[[period]]
name = "day"
from = "08:00"
air = "20 °C"
)";

struct Steps {
  Steps() : document(decode::read_toml(kDay, "day")), file(read_day(document, catalogue::builtin())) {
    forecast = forecast::forecast(file.scenario, {.with_one_loss = false});
    steps = remedy_steps(remedy_base(document, file, forecast, catalogue::builtin()));
  }
  [[nodiscard]] const RemedyStep& find(const std::string& kind, const std::string& words) const {
    for (const RemedyStep& step : steps) {
      if (step.kind == kind && step.words.find(words) != std::string::npos) return step;
    }
    throw std::runtime_error("no step " + kind + " " + words);
  }
  [[nodiscard]] day::Scenario with(const RemedyStep& step) const {
    return changed_day(document, file, {step.change}, catalogue::builtin()).scenario;
  }
  decode::Document document;
  DayFile file;
  forecast::Forecast forecast;
  std::vector<RemedyStep> steps;
};

double lead_ohm(const day::Scenario& day) {
  for (const day::Lead& lead : day.leads) {
    if (lead.name == "box.out-1 to recorder.dc") return lead.cable_ohm;
  }
  return -1.0;
}

// Ohms a kilometre at 20 °C of a published wire table (secondary source): AWG 22 52.94, AWG 18 20.94; two conductors.
TEST(RemedySteps, CableByTheTable) {
  const Steps all;
  EXPECT_NEAR(lead_ohm(all.file.scenario), 2 * 3.0 * 52.94e-3, 2 * 3.0 * 0.05e-3);
  EXPECT_NEAR(lead_ohm(all.with(all.find("cable", "thicker"))), 2 * 3.0 * 20.94e-3, 2 * 3.0 * 0.05e-3);
  EXPECT_NEAR(lead_ohm(all.with(all.find("cable", "shorter"))), 2 * 1.5 * 52.94e-3, 2 * 1.5 * 0.05e-3);
}

TEST(RemedySteps, CleanContactsAreTheCataloguesNewOnes) {
  const Steps all;
  const catalogue::ConnectorKind* plug = catalogue::builtin().connector("round-lock-4");
  const day::Scenario clean = all.with(all.find("contacts", "box.out-1"));
  for (const day::Lead& lead : clean.leads) {
    if (lead.name == "box.out-1 to recorder.dc") {
      EXPECT_DOUBLE_EQ(lead.contact_ohm, 2 * plug->contacts * plug->contact_new_ohm);
    }
  }
}

TEST(RemedySteps, OnePackOfALabelListGetsATableOfItsOwn) {
  const Steps all;
  const day::Scenario newer = all.with(all.find("newer_pack", "P2"));
  ASSERT_EQ(newer.packs.size(), 2U);
  for (const day::Pack& pack : newer.packs) {
    const double before = all.file.scenario.packs.front().params.cell.capacity_as;
    EXPECT_NEAR(pack.params.cell.capacity_as, pack.params.label == "P2" ? before / 0.8 : before, 1e-6 * before);
  }
}

TEST(RemedySteps, AnotherPackNeverHurts) {
  const Steps all;
  int tried = 0;
  for (const RemedyStep& step : all.steps) {
    if (step.kind != "pack") continue;
    ++tried;
    const remedies::Outcome outcome = remedies::measure(all.with(step), {.days = 0});
    EXPECT_GE(outcome.margin_s, all.forecast.margin_s - 1.0) << step.words;
  }
  EXPECT_EQ(tried, 2);  // the cup takes two kinds
}

// Two body-packs whose cells are thrown away, and rechargeable ones for both: four cells, which one charger of four or
// more bays has full by morning. What it costs is worked out by hand from the catalogue's prices.
TEST(RemedySteps, ChargersThatServeTwoStepsAreGotOnce) {
  const decode::Document document = decode::read_toml(R"(format = 1
[day]
call = "08:00"
wrap = "18:00"
[[pack]]
labels = ["A", "B"]
kind = "aa-alkaline-x2"
[[holder]]
name = "door A"
kind = "door-2aa"
in = "body-pack A"
packs = ["A"]
[[holder]]
name = "door B"
kind = "door-2aa"
in = "body-pack B"
packs = ["B"]
[[device]]
name = "body-pack A"
kind = "body-pack-2aa"
[[device]]
name = "body-pack B"
kind = "body-pack-2aa"
[[period]]
name = "day"
from = "08:00"
air = "20 °C"
[rest]
there = "18:30-07:30"
)",
                                                      "day");
  const catalogue::Catalogue& known = catalogue::builtin();
  const DayFile file = read_day(document, known);
  const forecast::Forecast forecast = forecast::forecast(file.scenario, {.with_one_loss = false});
  const std::vector<RemedyStep> steps = remedy_steps(remedy_base(document, file, forecast, known));
  const auto find = [&](const std::string& kind, const std::string& words) {
    return &*std::find_if(steps.begin(), steps.end(), [&](const RemedyStep& step) {
      return step.kind == kind && step.words.find(words) != std::string::npos;
    });
  };
  const auto taken = [&](const std::vector<const RemedyStep*>& set) {
    std::vector<DayChange> changes;
    for (const RemedyStep* step : set) changes.push_back(step->change);
    return taken_by(set, file, changed_day(document, file, changes, known), known);
  };
  double cheapest = 1e9;
  for (const catalogue::ChargerKind& charger : known.chargers) {
    const bool fits = std::find(charger.fits.begin(), charger.fits.end(), "aa-nimh-lsd-x2") != charger.fits.end();
    if (fits && charger.bays >= 4) cheapest = std::min(cheapest, charger.price_usd);
  }
  const double pack = known.pack("aa-nimh-lsd-x2")->price_usd;
  const RemedyStep* in_a = find("other_kind", "aa-nimh-lsd-x2 in door A");
  const RemedyStep* in_b = find("other_kind", "aa-nimh-lsd-x2 in door B");
  const RemedyStep* other = find("other_kind", "aa-nimh-x2 in door B");
  EXPECT_NEAR(taken({in_a}).money.rough(), pack + cheapest, 1e-9);
  const Taken both = taken({in_a, in_b});
  ASSERT_EQ(both.chargers.size(), 1U);
  EXPECT_EQ(both.chargers.front().add, 1);
  EXPECT_EQ(both.chargers.front().packs, 2);
  EXPECT_NEAR(both.money.rough(), 2.0 * pack + cheapest, 1e-9);
  EXPECT_NEAR(both.cost.mass_kg - taken({in_a}).cost.mass_kg,
              known.pack("aa-nimh-lsd-x2")->mass_kg - known.pack("aa-alkaline-x2")->mass_kg, 1e-9);
  // Larger cells for one of them go along on the same charger.
  const double larger = known.pack("aa-nimh-x2")->price_usd;
  const Taken mixed = taken({in_a, other});
  ASSERT_EQ(mixed.chargers.size(), 1U);
  EXPECT_NEAR(taken({other}).money.rough(), larger + cheapest, 1e-9);
  EXPECT_NEAR(mixed.money.rough(), pack + larger + cheapest, 1e-9);
}

// A draw measured in the day as it is stays what it is when something else is switched off.
TEST(RemedySteps, MeasuredDrawsAreKept) {
  decode::Document document = decode::read_toml(std::string(kDay) + R"([[measured]]
at = "box"
draw = "30 W"
during = "day"
)",
                                                "day");
  DayFile file = read_day(document, catalogue::builtin());
  apply_measured(file);
  const DayFile changed = changed_day(document, file, {}, catalogue::builtin());
  for (std::size_t d = 0; d < file.scenario.devices.size(); ++d) {
    EXPECT_NE(file.scenario.devices[d].scale, 1.0);
    EXPECT_DOUBLE_EQ(changed.scenario.devices[d].scale, file.scenario.devices[d].scale);
  }
}

}  // namespace
}  // namespace tillwrap::app
