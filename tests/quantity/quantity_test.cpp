// Dimensions multiply as the SI says (BIPM SI Brochure, 9th edition, table 4).
#include "quantity/quantity.hpp"

#include <gtest/gtest.h>

#include <type_traits>

namespace tillwrap {
namespace {

static_assert(std::is_same_v<decltype(Volts{} * Amps{}), Watts>);
static_assert(std::is_same_v<decltype(Volts{} / Amps{}), Ohms>);
static_assert(std::is_same_v<decltype(Amps{} * Seconds{}), Coulombs>);
static_assert(std::is_same_v<decltype(Coulombs{} / Volts{}), Farads>);
static_assert(std::is_same_v<decltype(Watts{} * Seconds{}), Joules>);
static_assert(std::is_same_v<decltype(Joules{} / Kelvins{}), JoulesPerKelvin>);
static_assert(std::is_same_v<decltype(OhmMetres{} / SquareMetres{}), OhmsPerMetre>);
static_assert(std::is_same_v<decltype(Volts{} / Volts{}), Ratio>);

TEST(Quantity, UnitsConvert) {
  EXPECT_DOUBLE_EQ(amp_hours(6.8).si, 24480.0);
  EXPECT_DOUBLE_EQ((Volts{14.4} * amp_hours(6.8)).si / 3600.0, 97.92);
  EXPECT_DOUBLE_EQ(celsius(25.0).si, kReferenceK);
  EXPECT_DOUBLE_EQ(to_celsius(celsius(-20.0)), -20.0);
  EXPECT_DOUBLE_EQ(to_watt_hours(watt_hours(98.0)), 98.0);
  EXPECT_LT(Volts{11.9}, Volts{12.0});
}

}  // namespace
}  // namespace tillwrap
