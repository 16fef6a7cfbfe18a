// Every unit against its definition: SI prefixes and the second (SI brochure), the inch of 25.4 mm and the pound of
// 0.45359237 kg (international yard and pound agreement, 1959), Celsius and Fahrenheit by their fixed points.
#include "decode/units.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <string>
#include <vector>

namespace {

using namespace tillwrap::decode;
using D = Dimension;

struct Good {
  const char* text;
  D dimension;
  double si;
};

class GoodQuantity : public ::testing::TestWithParam<Good> {};

TEST_P(GoodQuantity, IsRead) {
  const Good& g = GetParam();
  EXPECT_NEAR(parse_quantity(g.text, g.dimension), g.si, 1e-12 * (1.0 + std::abs(g.si))) << g.text;
}

INSTANTIATE_TEST_SUITE_P(
    Units, GoodQuantity,
    ::testing::Values(
        Good{"14.5 W", D::power, 14.5}, Good{"14.5W", D::power, 14.5}, Good{"250 mW", D::power, 0.25},
        Good{"1.2 kW", D::power, 1200}, Good{"5 watts", D::power, 5}, Good{".5 W", D::power, 0.5},
        Good{"5. W", D::power, 5}, Good{"1e1 W", D::power, 10}, Good{"2 A", D::current, 2},
        Good{"2 mA", D::current, 0.002}, Good{"14.4 V", D::voltage, 14.4}, Good{"30 mV", D::voltage, 0.03},
        Good{"250 mΩ", D::resistance, 0.25}, Good{"250 m\xE2\x84\xA6", D::resistance, 0.25},
        Good{"250 mohm", D::resistance, 0.25}, Good{"3 ohm", D::resistance, 3}, Good{"6.8 kΩ", D::resistance, 6800},
        Good{"3 Ω", D::resistance, 3}, Good{"5000 mAh", D::charge, 18000}, Good{"6.8 Ah", D::charge, 24480},
        Good{"98 Wh", D::energy, 352800}, Good{"500 mWh", D::energy, 1800}, Good{"1 kWh", D::energy, 3.6e6},
        Good{"10 J", D::energy, 10}, Good{"20 °C", D::temperature, 293.15}, Good{"-6 °C", D::temperature, 267.15},
        Good{"−6 °C", D::temperature, 267.15}, Good{"– 6 °C", D::temperature, 267.15},
        Good{"28 °F", D::temperature, 270.92777777777775}, Good{"32 F", D::temperature, 273.15},
        Good{"212 °F", D::temperature, 373.15}, Good{"-40 °F", D::temperature, 233.15},
        Good{"20 C", D::temperature, 293.15}, Good{"300 K", D::temperature, 300}, Good{"20 ℃", D::temperature, 293.15},
        Good{"5 K", D::temperature_difference, 5}, Good{"9 °F", D::temperature_difference, 5},
        Good{"5 °C", D::temperature_difference, 5}, Good{"0.5 m", D::length, 0.5}, Good{"40 cm", D::length, 0.4},
        Good{"8 mm", D::length, 0.008}, Good{"3 ft", D::length, 0.9144}, Good{"10 in", D::length, 0.254},
        Good{"1.5 kg", D::mass, 1.5}, Good{"500 g", D::mass, 0.5}, Good{"2 lb", D::mass, 0.90718474},
        Good{"16 oz", D::mass, 0.45359237}, Good{"2 h", D::duration, 7200}, Good{"1 h 30 min", D::duration, 5400},
        Good{"1h30min", D::duration, 5400}, Good{"90 s", D::duration, 90}, Good{"1.5 h", D::duration, 5400},
        Good{"1 d 2 h", D::duration, 93600}, Good{"20 ms", D::duration, 0.02}, Good{"07:10", D::clock, 25800},
        Good{"7:10", D::clock, 25800}, Good{"07:10:30", D::clock, 25830}, Good{"25:30", D::clock, 91800},
        Good{"00:00", D::clock, 0}, Good{"1:05 am", D::clock, 3900}, Good{"1:05 pm", D::clock, 47100},
        Good{"12:30 am", D::clock, 1800}, Good{"12:30pm", D::clock, 45000}, Good{"30 %", D::fraction, 0.3},
        Good{"30%", D::fraction, 0.3}, Good{"0.3", D::fraction, 0.3}, Good{"104 %", D::fraction, 1.04},
        Good{"1.9", D::factor, 1.9}, Good{"1.9 ×", D::factor, 1.9}, Good{"× 1.9", D::factor, 1.9},
        Good{"1.9x", D::factor, 1.9}, Good{"4700 µF", D::capacitance, 0.0047}, Good{"4700 uF", D::capacitance, 0.0047},
        Good{"0.5 mm²", D::area, 0.5e-6}, Good{"0.5 mm2", D::area, 0.5e-6}, Good{"3.5 W/K", D::conductance_heat, 3.5},
        Good{"900 J/K", D::heat_capacity, 900}, Good{"1.2 kJ/K", D::heat_capacity, 1200},
        Good{"  14.5\xC2\xA0W ", D::power, 14.5}, Good{"14.5\xE2\x80\xAFW", D::power, 14.5}));

struct Bad {
  const char* text;
  D dimension;
  const char* says;
  const char* hint;
};

class BadQuantity : public ::testing::TestWithParam<Bad> {};

TEST_P(BadQuantity, IsNamed) {
  const Bad& b = GetParam();
  try {
    const double si = parse_quantity(b.text, b.dimension);
    FAIL() << b.text << " was read as " << si;
  } catch (const QuantityError& error) {
    EXPECT_NE(std::string(error.what()).find(b.says), std::string::npos) << error.what();
    EXPECT_NE(error.hint.find(b.hint), std::string::npos) << error.hint;
  }
}

INSTANTIATE_TEST_SUITE_P(
    Units, BadQuantity,
    ::testing::Values(
        Bad{"14.5 W", D::length, "length in W", "allowed: m, cm, mm, ft, in"},
        Bad{"3 ft", D::power, "power in ft", "W, mW, kW"},
        Bad{"2 h", D::charge, "charge in h: \"2 h\" is a duration", "Ah, mAh"},
        Bad{"98 Wh", D::charge, "charge in Wh", "Ah"}, Bad{"2 Ah", D::current, "current in Ah", "A, mA"},
        Bad{"14.5", D::power, "has no unit", "write \"14.5 W\""}, Bad{"14,5 W", D::power, "decimal comma", "\"14.5\""},
        Bad{"1,200 W", D::power, "decimal comma", "1.200"}, Bad{"fourteen W", D::power, "is no power", "W, mW, kW"},
        Bad{"", D::power, "empty", "W"}, Bad{"   ", D::duration, "empty", "h, min, s"},
        Bad{"W", D::power, "is no power", "W"}, Bad{"14.5 watz", D::power, "unknown unit \"watz\"", "W"},
        Bad{"14.5 W W", D::power, "unknown unit", "W"}, Bad{"5 MW", D::power, "unknown unit \"MW\"", "mW"},
        Bad{"1e999 W", D::power, "out of range", "finite"}, Bad{"nan W", D::power, "is no power", "W"},
        Bad{"inf", D::factor, "is no factor", "plain number"}, Bad{"0x10 W", D::power, "unknown unit", "W"},
        Bad{"-300 °C", D::temperature, "absolute zero", "-273.15"},
        Bad{"20", D::temperature, "has no unit", "°C, °F, K"},
        Bad{"30 min 1 h", D::duration, "is no duration", "hours before minutes"},
        Bad{"1 h 30", D::duration, "has no unit of time", "min"},
        Bad{"1:30", D::duration, "is no duration", "1 h 30 min"}, Bad{"3 W", D::duration, "duration in W", "h, min, s"},
        Bad{"7.10", D::clock, "is no clock time", "07:10"}, Bad{"7", D::clock, "is no clock time", "07:10"},
        Bad{"07:60", D::clock, "is no clock time", "minutes 00 to 59"},
        Bad{"99:00", D::clock, "is no clock time", "hours 0 to 71"},
        Bad{"13:05 pm", D::clock, "is no clock time", "1 to 12"}, Bad{"07:1", D::clock, "is no clock time", "07:10"},
        Bad{"-07:10", D::clock, "is no clock time", "07:10"},
        Bad{"07:10 tomorrow", D::clock, "is no clock time", "25:30"},
        Bad{"30", D::fraction, "more than the whole", "\"30 %\""},
        Bad{"3000", D::fraction, "more than the whole", "0 % to 100 %"},
        Bad{"30 W", D::fraction, "fraction in W", "30 %"}, Bad{"2 y", D::factor, "unknown unit", "1.9"}));

TEST(Draws, OfEveryForm) {
  EXPECT_EQ(parse_draw("14.5 W"), (Draw{Draw::Kind::power, 14.5, {}, {}}));
  EXPECT_EQ(parse_draw("200 mA"), (Draw{Draw::Kind::current, 0.2, 0.2, {}}));
  EXPECT_EQ(parse_draw("10 ohm"), (Draw{Draw::Kind::resistance, 10.0, {}, {}}));
  const Draw both = parse_draw("1.2 A at 12 V");
  EXPECT_EQ(both.kind, Draw::Kind::power);
  EXPECT_DOUBLE_EQ(both.value, 14.4);
  EXPECT_EQ(both.amps_a, 1.2);
  EXPECT_EQ(both.volts_v, 12.0);
  EXPECT_EQ(parse_draw("1.2A@12V"), both);
  for (const char* bad : {"12 V", "12 V at 1.2 A", "1 A at 2 V at 3 V", "1.2 A at", "", "14,5 W", "1.2"}) {
    EXPECT_THROW(parse_draw(bad), QuantityError) << bad;
  }
}

TEST(Readings, OfEveryForm) {
  const Reading both = parse_reading("1.4 A at 14.6 V");
  EXPECT_EQ(both.amps_a, 1.4);
  EXPECT_EQ(both.volts_v, 14.6);
  EXPECT_FALSE(both.at_s);
  EXPECT_EQ(parse_reading("1.4 A").amps_a, 1.4);
  EXPECT_EQ(parse_reading("22 W").watts_w, 22.0);
  EXPECT_EQ(parse_reading("13.9 V at 12:40").at_s, 45600.0);
  const std::vector<Reading> gauge = parse_readings("100 % at 07:10, 22 % at 12:40");
  ASSERT_EQ(gauge.size(), 2U);
  EXPECT_EQ(gauge[0].fraction, 1.0);
  EXPECT_EQ(gauge[0].at_s, 25800.0);
  EXPECT_DOUBLE_EQ(*gauge[1].fraction, 0.22);
  EXPECT_EQ(gauge[1].at_s, 45600.0);
  for (const char* bad :
       {"", "at 07:10", "07:10", "1 A at 2 A", "1,4 A", "3 m", "5 % at 25:99", "1 A,", "1 A at 07:10 at 08:10"}) {
    EXPECT_THROW(parse_readings(bad), QuantityError) << bad;
  }
}

TEST(WireSizes, OfEveryForm) {
  EXPECT_EQ(parse_wire_size("AWG 22").awg, 22);
  EXPECT_EQ(parse_wire_size("AWG22").awg, 22);
  EXPECT_EQ(parse_wire_size("22 AWG").awg, 22);
  EXPECT_EQ(parse_wire_size("awg 16").awg, 16);
  EXPECT_EQ(parse_wire_size("0.5 mm²").area_mm2, 0.5);
  EXPECT_EQ(parse_wire_size("0.22mm2").area_mm2, 0.22);
  EXPECT_FALSE(parse_wire_size("0.5 mm²").awg);
  for (const char* bad :
       {"", "22", "AWG", "AWG 22.5", "AWG 99", "AWG -1", "0.5 mm", "0 mm2", "-1 mm2", "0,5 mm2", "AWG 22 mm2"}) {
    EXPECT_THROW(parse_wire_size(bad), QuantityError) << bad;
  }
}

TEST(Duties, OnAndPeriod) {
  EXPECT_EQ(parse_duty("15 s/1 min"), (Duty{15.0, 60.0}));
  EXPECT_EQ(parse_duty("1 h / 24 h"), (Duty{3600.0, 86400.0}));
  for (const char* bad : {"15 s", "0 s/1 min", "2 min/1 min", "15/60", "/", "a/b"}) {
    EXPECT_THROW(parse_duty(bad), QuantityError) << bad;
  }
}

TEST(Words, OfValues) {
  EXPECT_EQ(quantity_words(14.5, D::power), "14.5 W");
  EXPECT_EQ(quantity_words(25800, D::clock), "07:10");
  EXPECT_EQ(quantity_words(91800, D::clock), "25:30");
  EXPECT_EQ(quantity_words(0.3, D::fraction), "30 %");
  EXPECT_EQ(quantity_words(293.15, D::temperature), "20 °C");
  EXPECT_EQ(quantity_words(24480, D::charge), "6.8 Ah");
  EXPECT_EQ(quantity_words(0.015, D::resistance), "15 mohm");
  EXPECT_EQ(quantity_words(5400, D::duration), "1.5 h");
}

TEST(Nearest, KnownWord) {
  const std::vector<std::string> known = {"length", "plug", "smart-cup", "smart-pack-14v4-98wh", "wire"};
  EXPECT_EQ(nearest("lenght", known), "length");
  EXPECT_EQ(nearest("wrie", known), "wire");
  EXPECT_EQ(nearest("smart-pak", known), "smart-pack-14v4-98wh");
  EXPECT_EQ(nearest("cable_length", known), "length");
  EXPECT_FALSE(nearest("temperature", known));
  EXPECT_FALSE(nearest("", known));
  EXPECT_FALSE(nearest(std::string(100000, 'x'), known));
}

RC_GTEST_PROP(Units, AnyTextIsAQuantityOrANamedError, (const std::string& text)) {
  for (int d = 0; d <= static_cast<int>(D::heat_capacity); ++d) {
    try {
      RC_ASSERT(std::isfinite(parse_quantity(text, static_cast<D>(d))));
    } catch (const QuantityError& error) {
      RC_ASSERT(!std::string(error.what()).empty());
      RC_ASSERT(!error.hint.empty());
    }
  }
}

RC_GTEST_PROP(Units, PiecesOfQuantitiesNeverEscape, ()) {
  // Closer to what can go wrong than random bytes: fragments of real quantities in any order.
  const std::vector<std::string> pieces = {"1",   "2.5", ",", ".",  "-",   "−",  " ",    "W",   "A", "V",
                                           "h",   "min", "s", "°C", "%",   "at", " at ", "@",   ":", "AWG",
                                           "mm²", "e",   "+", "×",  "ohm", "/",  "pm",   "\xC2"};
  const auto picks = *rc::gen::container<std::vector<std::size_t>>(rc::gen::inRange<std::size_t>(0, pieces.size()));
  std::string text;
  for (const std::size_t i : picks) text += pieces[i];
  const auto runs = [&](auto parse) {
    try {
      parse(text);
    } catch (const QuantityError&) {
    }
  };
  for (int d = 0; d <= static_cast<int>(D::heat_capacity); ++d) {
    runs([&](const std::string& t) { parse_quantity(t, static_cast<D>(d)); });
  }
  runs(parse_draw);
  runs(parse_readings);
  runs(parse_wire_size);
  runs(parse_duty);
}

}  // namespace
