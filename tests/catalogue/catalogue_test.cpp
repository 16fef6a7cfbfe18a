// The built-in catalogue is whole: every entry has its source, every reference leads somewhere, the classes asked for
// are there, and the numbers agree with the figures they are said to come from.
#include "catalogue/catalogue.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <string>

#include "catalogue/lists.hpp"
#include "wiring/wire.hpp"

namespace {

using namespace tillwrap;
using namespace tillwrap::catalogue;

TEST(Catalogue, EveryEntryHasItsSourceAndMark) {
  for_each_list(builtin(), [](const ListName& name, const auto& list) {
    EXPECT_FALSE(list.empty()) << name.plural;
    for (const Entry& entry : list) {
      EXPECT_FALSE(entry.title.empty()) << entry.id;
      EXPECT_GE(entry.provenance.source.size(), 4U) << entry.id;
      EXPECT_EQ(entry.provenance.checked.size(), 10U) << entry.id;
      ASSERT_NE(entry.node, nullptr) << entry.id;
      EXPECT_NE(entry.node->find("mark"), nullptr) << entry.id;
      for (const auto& [key, own] : entry.own_provenance) EXPECT_GE(own.source.size(), 4U) << entry.id << " " << key;
    }
  });
}

TEST(Catalogue, IdsAndAliasesAreUnique) {
  std::set<std::string> seen;
  for_each_list(builtin(), [&](const ListName&, const auto& list) {
    for (const Entry& entry : list) {
      EXPECT_TRUE(seen.insert(entry.id).second) << entry.id;
      for (const std::string& alias : entry.aliases) EXPECT_TRUE(seen.insert(alias).second) << alias;
    }
  });
}

// A device with a meter can be told of what its own door, tray or plate takes: by so many cells in series, or it reads
// a pack as one of another size. Common practice, no source.
TEST(Catalogue, MetersKnowAPackOfEachOwnHolder) {
  const Catalogue& c = builtin();
  for (const DeviceKind& device : c.devices) {
    if (device.meters.empty()) continue;
    for (const std::string& id : device.holders) {
      const HolderKind* holder = c.holder(id);
      ASSERT_NE(holder, nullptr) << device.id << " " << id;
      const bool known = std::any_of(holder->fits.begin(), holder->fits.end(), [&](const std::string& pack) {
        return std::any_of(device.meters.begin(), device.meters.end(),
                           [&](const std::string& meter) { return c.meter(meter)->cells == c.pack(pack)->series; });
      });
      EXPECT_TRUE(known) << device.id << " has no meter for what " << id << " takes";
    }
  }
}

TEST(Catalogue, HoldsTheClassesAskedFor) {
  const Catalogue& c = builtin();
  EXPECT_GE(c.devices.size(), 25U);
  EXPECT_GE(c.connectors.size(), 12U);
  EXPECT_GE(c.fuses.size(), 5U);
  for (const char* id :
       {"nmc", "nca", "lco", "lfp", "nimh", "nimh-lsd", "alkaline", "lithium-iron-disulfide", "vrla-agm", "vrla-gel"}) {
    EXPECT_NE(c.cell(id), nullptr) << id;
  }
  for (const char* chemistry : {"alkaline", "nimh", "nimh-lsd", "lithium"}) {
    for (const char* count : {"x1", "x2", "x4", "x8"}) {
      const std::string id = std::string("aa-") + chemistry + "-" + count;
      EXPECT_NE(c.pack(id), nullptr) << id;
    }
  }
  for (const char* id : {"slide-on-7v2-small", "slide-on-7v2-medium", "slide-on-7v2-large", "bank-12v-barrel",
                         "smart-pack-14v4-49wh", "smart-pack-14v4-98wh", "plate-pack-14v4-90wh", "plate-pack-14v4-98wh",
                         "plate-pack-14v4-150wh", "vrla-12v-7ah", "vrla-12v-17ah", "lfp-12v8", "nimh-12v",
                         "usb-bank-5v", "usb-bank-pd", "bodypack-flat-lithium", "sled-8aa-nimh"}) {
    EXPECT_NE(c.pack(id), nullptr) << id;
  }
  for (int awg = 16; awg <= 28; ++awg) EXPECT_NE(c.wire("awg-" + std::to_string(awg)), nullptr) << awg;
  for (const char* id : {"wire-0mm22", "wire-0mm5", "wire-0mm75", "wire-1mm0", "wire-1mm5", "wire-2mm5"}) {
    EXPECT_NE(c.wire(id), nullptr) << id;
  }
  EXPECT_NE(c.source("vehicle-socket"), nullptr);
  EXPECT_EQ(c.pack("no-such-pack"), nullptr);
  EXPECT_EQ(c.device(""), nullptr);
}

TEST(Catalogue, PacksAddUp) {
  const Catalogue& c = builtin();
  for (const PackKind& pack : c.packs) {
    const CellKind* cell = c.cell(pack.cell);
    ASSERT_NE(cell, nullptr) << pack.id;
    const cell::PackParams p = pack_params(pack, *cell);
    // The cell scaled to its share of the label keeps the ratio of true to rated charge of its set.
    const double share_as = cell->params.capacity_as / cell->params.rated_ah * pack.rated_ah / pack.parallel;
    EXPECT_NEAR(p.cell.capacity_as, share_as, 1e-6 * share_as) << pack.id;
    // Full and rested, a pack shows its cells in series, near what the trade calls full.
    const double full_v = evaluate(p, cell::rates_at(p.cell, 298.15), cell::rested(p, 1.0, 298.15), 0.0).volts;
    EXPECT_NEAR(full_v, pack.series * p.cell.ocv.value(1.0), 1e-6) << pack.id;
    EXPECT_GT(full_v, 0.99 * pack.nominal_v) << pack.id;
    EXPECT_LT(full_v, 1.25 * pack.nominal_v) << pack.id;
    // Protection opens below the usual cut-off region, not in the middle of the charge.
    EXPECT_LT(pack.protection.under_v, 0.85 * pack.nominal_v) << pack.id;
    if (pack.charge_volts > 0.0) {
      EXPECT_GT(pack.charge_volts, pack.nominal_v) << pack.id;
    }
    // Wh a kilogram inside what the chemistries reach: lead 30, lithium metal 300 (from memory).
    EXPECT_GT(pack.rated_wh / pack.mass_kg, 25.0) << pack.id;
    EXPECT_LT(pack.rated_wh / pack.mass_kg, 310.0) << pack.id;
  }
}

TEST(Catalogue, AgeingReachesThePack) {
  const Catalogue& c = builtin();
  const PackKind& kind = *c.pack("smart-pack-14v4-98wh");
  const cell::PackParams fresh = pack_params(kind, *c.cell(kind.cell));
  const cell::PackParams old =
      pack_params(kind, *c.cell(kind.cell), {.capacity_fraction = 0.71, .resistance_factor = 1.9});
  EXPECT_NEAR(old.cell.capacity_as / fresh.cell.capacity_as, 0.71, 1e-12);
  EXPECT_NEAR(old.cell.electrolyte_ohm / fresh.cell.electrolyte_ohm, 1.9, 1e-12);
  // 98 Wh at 14.4 V is 6.8 Ah in two strings (derived: Wh / V).
  EXPECT_NEAR(kind.rated_ah, 98.0 / 14.4, 0.01);
}

TEST(Catalogue, TravelClassesFollowTheLabel) {
  const Catalogue& c = builtin();
  // 49 CFR 175.10: Wh = nominal volts x rated Ah; 100 and 160 Wh are its limits.
  EXPECT_LT(c.pack("smart-pack-14v4-98wh")->travel.rated_wh, 100.0);
  EXPECT_GT(c.pack("plate-pack-14v4-150wh")->travel.rated_wh, 100.0);
  EXPECT_LT(c.pack("plate-pack-14v4-150wh")->travel.rated_wh, 160.0);
  EXPECT_GT(c.pack("vrla-12v-17ah")->travel.rated_wh, 100.0);
  for (const PackKind& pack : c.packs) {
    EXPECT_NEAR(pack.travel.rated_wh, pack.nominal_v * pack.rated_ah, 0.02 * pack.rated_wh) << pack.id;
    // At most 2 g of lithium a cell for lithium metal in baggage, secondary source.
    EXPECT_LE(pack.travel.lithium_g, 2.0 * pack.travel.pieces) << pack.id;
    EXPECT_EQ(pack.travel.lithium_g > 0.0, pack.travel.kind == TravelClass::Kind::lithium_metal) << pack.id;
  }
}

TEST(Catalogue, PlugsMateAsTheTradeKnows) {
  const Catalogue& c = builtin();
  // 2.1 plug does not enter a 2.5 jack; 2.5 plug on a 2.1 pin is intermittent (secondary source).
  EXPECT_EQ(c.fit("barrel-2mm1", "barrel-2mm1"), Fit::mates);
  EXPECT_EQ(c.fit("barrel-2mm1", "barrel-2mm5"), Fit::no);
  EXPECT_EQ(c.fit("barrel-2mm5", "barrel-2mm1"), Fit::loose);
  EXPECT_EQ(c.fit("xlr-4", "round-lock-4"), Fit::no);
  EXPECT_EQ(c.fit("barrel-2.5", "barrel-2.1"), Fit::loose) << "aliases find the same plugs";
  EXPECT_EQ(c.fit("xlr-4", "nothing"), Fit::no);
  for (const ConnectorKind& connector : c.connectors) {
    EXPECT_LE(connector.contact_new_ohm, connector.contact_worn_ohm) << connector.id;
    EXPECT_EQ(c.fit(connector.id, connector.id), Fit::mates) << connector.id;
  }
  // Contact data of the classes, secondary source: 15 mohm new, 30 worn, 2 A; barrel at most 30 new, 100 worn.
  EXPECT_DOUBLE_EQ(c.connector("round-lock-4")->contact_new_ohm, 0.015);
  EXPECT_DOUBLE_EQ(c.connector("round-lock-4")->contact_worn_ohm, 0.030);
  EXPECT_DOUBLE_EQ(c.connector("round-lock-4")->rating_a, 2.0);
  EXPECT_LE(c.connector("barrel-2mm1")->contact_new_ohm, 0.030);
  EXPECT_FALSE(c.connector("barrel-2mm1")->locks);
  EXPECT_TRUE(c.connector("barrel-lock")->locks);
  EXPECT_TRUE(c.connector("power-tap")->can_reverse);
}

TEST(Catalogue, FusesByTheirStandards) {
  const Catalogue& c = builtin();
  const auto point = [](const FuseKind& fuse, double ratio) {
    const auto it =
        std::find_if(fuse.points.begin(), fuse.points.end(), [&](const FusePoint& p) { return p.ratio == ratio; });
    return it == fuse.points.end() ? FusePoint{} : *it;
  };
  // UL 248-14, secondary source: carry 100 %, open at 135 % within 1 h, 200 % within 2 min.
  const FuseKind& ul = *c.fuse("fuse-ul");
  EXPECT_TRUE(std::isinf(point(ul, 1.0).holds_s));
  EXPECT_EQ(point(ul, 1.35).opens_s, 3600.0);
  EXPECT_EQ(point(ul, 2.0).opens_s, 120.0);
  EXPECT_EQ(ul.long_fraction, 0.75);
  // IEC 60127 F, secondary source: 150 % at least 60 min, 210 % at most 30 min, 400 % 10 to 300 ms.
  const FuseKind& quick = *c.fuse("fuse-iec-f");
  EXPECT_EQ(point(quick, 1.5).holds_s, 3600.0);
  EXPECT_EQ(point(quick, 2.1).opens_s, 1800.0);
  EXPECT_EQ(point(quick, 4.0).holds_s, 0.010);
  EXPECT_EQ(point(quick, 4.0).opens_s, 0.300);
  EXPECT_EQ(quick.long_fraction, 1.0);
  // PPTC: trip at about twice hold (secondary source); 0 °C 1.18, 40 °C 0.83, 60 °C 0.65 of hold (from memory).
  const FuseKind& resettable = *c.fuse("fuse-pptc");
  EXPECT_TRUE(resettable.resets);
  const auto at = [&](double celsius) {
    for (const auto& [k, factor] : resettable.derating) {
      if (std::fabs(k - 273.15 - celsius) < 1e-9) return factor;
    }
    return 0.0;
  };
  EXPECT_EQ(at(0), 1.18);
  EXPECT_EQ(at(23), 1.0);
  EXPECT_EQ(at(40), 0.83);
  EXPECT_EQ(at(60), 0.65);
  for (const FuseKind& fuse : c.fuses) {
    for (std::size_t i = 1; i < fuse.points.size(); ++i) {
      EXPECT_LE(fuse.points[i].opens_s, fuse.points[i - 1].opens_s) << fuse.id << ": more current opens it no later";
    }
  }
}

TEST(Catalogue, WiresAgreeWithTheWireModel) {
  const Catalogue& c = builtin();
  EXPECT_NEAR(c.wire("awg-22")->ohm_per_m * 1e3, 52.94, 0.06);    // published table, secondary source
  EXPECT_NEAR(c.wire("wire-1mm5")->ohm_per_m * 1e3, 13.3, 1e-9);  // IEC 60228 class 5, secondary source
  EXPECT_TRUE(c.wire("wire-0mm5")->class5);
  EXPECT_FALSE(c.wire("wire-0mm22")->class5);
  for (const WireKind& wire : c.wires) EXPECT_GT(wire.ampacity_a, 0.5) << wire.id;
}

TEST(Catalogue, PhantomByTheStandard) {
  // IEC 61938, secondary source: 48 V behind 6.8 kohm a leg, 3400 ohm common; at most 10 mA an input.
  for (const DeviceKind& device : builtin().devices) {
    if (!device.phantom) continue;
    EXPECT_EQ(device.phantom->supply_v, 48.0) << device.id;
    EXPECT_EQ(device.phantom->feed_ohm, 3400.0) << device.id;
    EXPECT_LE(device.phantom->limit_a, 0.010 * device.phantom->inputs + 1e-12) << device.id;
    EXPECT_GE(device.phantom->efficiency, 0.65) << device.id;
    EXPECT_LE(device.phantom->efficiency, 0.85) << device.id;
  }
}

TEST(Catalogue, DrawsInsideTheTradesRanges) {
  // Draw by class, common practice or from memory as marked in the entries: watts at the input.
  struct Row {
    const char* id;
    double low_w, high_w;
  };
  for (const Row& row :
       {Row{"field-mixer-3", 1, 3}, Row{"recorder-mixer-8", 6, 12}, Row{"recorder-mixer-16", 12, 25},
        Row{"receiver-dual", 1.5, 5}, Row{"receiver-frame", 8, 20}, Row{"antenna-distribution", 1, 4},
        Row{"transmitter-hop", 0.6, 2.5}, Row{"belt-pack-cue", 0.1, 0.6}, Row{"body-pack-2aa", 0.4, 1.2},
        Row{"timecode-box", 0.05, 0.5}, Row{"monitor-bag", 3, 10}, Row{"slate", 0.5, 2}}) {
    const DeviceKind* device = builtin().device(row.id);
    ASSERT_NE(device, nullptr) << row.id;
    const Estimate& draw = device->modes.front().draw_w;
    EXPECT_GE(draw.low, row.low_w) << row.id;
    EXPECT_LE(draw.high, row.high_w) << row.id;
    EXPECT_LE(draw.low, draw.typical);
    EXPECT_LE(draw.typical, draw.high);
  }
  // One documented field mixer takes 200 mA, constant current, from 7 to 18 V (secondary source).
  const DeviceKind& mixer = *builtin().device("field-mixer-2");
  EXPECT_TRUE(mixer.modes.front().constant_current);
  EXPECT_DOUBLE_EQ(mixer.modes.front().draw_a.typical, 0.2);
  EXPECT_EQ(mixer.inputs.front().least_v, 7.0);
}

TEST(Catalogue, HoldersTakeWhatTheirPlugsCanCarry) {
  const Catalogue& c = builtin();
  for (const HolderKind& holder : c.holders) {
    for (const std::string& id : holder.fits) {
      const PackKind* pack = c.pack(id);
      ASSERT_NE(pack, nullptr);
      EXPECT_NE(std::find(pack->fits.begin(), pack->fits.end(), holder.id), pack->fits.end()) << id;
    }
  }
  for (const ChargerKind& charger : c.chargers) {
    for (const std::string& id : charger.fits) {
      const PackKind* pack = c.pack(id);
      if (charger.volts > 0.0) {
        EXPECT_NEAR(charger.volts, pack->charge_volts, 0.01) << charger.id << " on " << id;
      }
    }
  }
}

TEST(Catalogue, DevicesTakeTheFreshPacksOfTheirOwnHolders) {
  const Catalogue& c = builtin();
  for (const DeviceKind& device : c.devices) {
    for (const std::string& holder : device.holders) {
      for (const std::string& id : c.holder(holder)->fits) {
        const PackKind* pack = c.pack(id);
        const double full_v = pack->series * c.cell(pack->cell)->params.ocv.value(1.0);
        const bool taken = std::any_of(device.inputs.begin(), device.inputs.end(), [&](const DeviceInput& input) {
          return input.least_v < pack->nominal_v && full_v <= input.most_v;
        });
        EXPECT_TRUE(taken) << device.id << " with " << id << " at " << full_v << " V";
      }
    }
  }
}

// ---- reading

const char* kGoodConnector =
    "[[connector]]\nid = \"a\"\ntitle = \"a\"\ncontact_new_ohm = 0.01\ncontact_worn_ohm = 0.02\nrating_a = "
    "2\nprice_usd = 5\n"
    "locks = true\npolarity = \"x\"\nmates = [\"a\"]\nsource = \"here\"\nmark = \"from memory\"\nchecked = "
    "\"2026-11-25\"\n";

std::string complaint(const std::string& text) {
  try {
    read({{"x.toml", text}});
  } catch (const decode::InputError& error) {
    return error.what();
  }
  return "no complaint";
}

std::string with(std::string text, const std::string& from, const std::string& to) {
  return text.replace(text.find(from), from.size(), to);
}

TEST(CatalogueReading, BadDataIsPointedAt) {
  EXPECT_EQ(complaint(kGoodConnector), "no complaint");
  EXPECT_EQ(complaint(with(kGoodConnector, "source = \"here\"\n", "")),
            "x.toml:1:1: a has no key \"source\"; add source = \"...\"");
  EXPECT_EQ(complaint(with(kGoodConnector, "\"from memory\"", "\"guess\"")),
            "x.toml:12:8: a: \"mark\" is \"guess\"; allowed: measured, standard, derived, secondary, from memory, "
            "common practice");
  EXPECT_EQ(complaint(with(kGoodConnector, "rating_a", "ratting_a")),
            "x.toml:6:1: a has no key \"rating\" but an unknown key \"ratting_a\"; did you mean \"rating\"?");
  EXPECT_EQ(complaint(with(kGoodConnector, "0.02", "0.001")),
            "x.toml:5:20: a: \"contact_worn_ohm\" is 1 mohm; allowed: at least 10 mohm");
  EXPECT_EQ(complaint(with(kGoodConnector, "id = \"a\"", "id = \"A b\"")),
            "x.toml:2:6: the id \"A b\" is not plain; use a to z, 0 to 9 and - inside");
  EXPECT_EQ(complaint(with(kGoodConnector, "[\"a\"]", "[\"b\"]")),
            "x.toml:1:1: a: no such entry in connectors: \"b\"; list them with: tillwrap catalogue connectors");
  EXPECT_EQ(complaint(std::string(kGoodConnector) + kGoodConnector),
            "x.toml:14:1: a: this id is used twice; give each entry its own id");
  EXPECT_EQ(complaint(std::string(kGoodConnector) + "sources.weight_kg = { mark = \"derived\", source = \"here\" }\n"),
            "x.toml:1:1: a: a source for \"weight_kg\", which is not there; name a key of the entry");
  EXPECT_EQ(complaint("[[conector]]\nid = 1\n"),
            "x.toml:1:3: x.toml has an unknown key \"conector\"; did you mean \"connector\"?");
}

TEST(CatalogueReading, EstimatesAscend) {
  const std::string fuse =
      "[[fuse]]\nid = \"f\"\ntitle = \"f\"\nstandard = \"s\"\nlong_fraction = 1\npoints = [[1.0, -1, -1], [2.0, 0, "
      "9]]\n"
      "drop_v = [0.1, 0.2, 0.3]\nratings_a = [1, 2]\nsource = \"here\"\nmark = \"from memory\"\nchecked = "
      "\"2026-11-25\"\n";
  EXPECT_EQ(complaint(fuse), "no complaint");
  EXPECT_NE(
      complaint(with(fuse, "[0.1, 0.2, 0.3]", "[0.3, 0.2, 0.1]")).find("x.toml:7:10: f: \"drop_v\" does not ascend"),
      std::string::npos);
  EXPECT_NE(complaint(with(fuse, "[0.1, 0.2, 0.3]", "[0.1, 0.2]")).find("has not three numbers"), std::string::npos);
  EXPECT_NE(complaint(with(fuse, "[2.0, 0, 9]", "[0.5, 0, 9]")).find("out of order"), std::string::npos);
  EXPECT_NE(complaint(with(fuse, "[2.0, 0, 9]", "[2.0, 9]")).find("has not 3 numbers"), std::string::npos);
}

TEST(CatalogueReading, ACellBroughtAlong) {
  const std::string cell =
      "[[cell]]\nid = \"mine\"\nchemistry = \"nmc\"\nrated_ah = 3.0\ncapacity_ah = 3.1\n"
      "ocv = [[0.0, 3.0], [0.5, 3.7], [1.0, 4.2]]\nlag_gain = [0.6667, 0.6667]\nlag_rate = [20.19, 59.68]\n"
      "diffusion_s = 4000\nseries_ohm = 0.02\nelectrolyte_ohm = 0.01\nheat_capacity_j_k = 42\ncooling_w_k = 0.07\n"
      "cutoff_v = 3.0\n";
  const decode::Document good = decode::read_toml(cell, "mine.toml");
  const CellKind kind = read_cell(good);
  EXPECT_EQ(kind.id, "mine");
  EXPECT_EQ(kind.title, "mine");
  EXPECT_DOUBLE_EQ(kind.params.capacity_as, 3.1 * 3600.0);
  EXPECT_DOUBLE_EQ(kind.params.ocv.value(0.5), 3.7);
  const auto fails = [](const std::string& text) -> std::string {
    try {
      const decode::Document d = decode::read_toml(text, "mine.toml");
      read_cell(d);
    } catch (const decode::InputError& error) {
      return error.what();
    }
    return "no complaint";
  };
  EXPECT_NE(fails(with(cell, "capacity_ah = 3.1", "capacity_ah = -3.1"))
                .find("mine.toml:5:15: cell 1: \"capacity_ah\" is -3.1; allowed: more than 0"),
            std::string::npos);
  EXPECT_NE(fails(with(cell, "[0.5, 3.7]", "[0.5, 4.3]")).find("does not rise with charge"), std::string::npos);
  EXPECT_NE(fails(with(cell, "[0.5, 3.7]", "[1.5, 3.7]")).find("mine.toml:6:7: cell 1: \"ocv\""), std::string::npos);
  EXPECT_NE(fails(with(cell, "\"nmc\"", "\"nmx\"")).find("did you mean \"nmc\"?"), std::string::npos);
  EXPECT_NE(fails(cell + cell).find("the file has 2 cells"), std::string::npos);
  EXPECT_NE(fails("").find("the file has 0 cells"), std::string::npos);
}

TEST(Catalogue, UnknownIdHint) {
  EXPECT_EQ(unknown_id_hint(builtin(), "packs", "smart-pack-14v4-99wh"),
            "did you mean \"smart-pack-14v4-49wh\"? list them with: tillwrap catalogue packs");
  EXPECT_EQ(unknown_id_hint(builtin(), "packs", "elephant"), "list them with: tillwrap catalogue packs");
  EXPECT_EQ(ids(builtin(), "fuses").size(), builtin().fuses.size());
  EXPECT_EQ(kind_names().front(), "packs");
}

}  // namespace
