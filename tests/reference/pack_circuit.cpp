#include "reference/pack_circuit.hpp"

#include "quantity/quantity.hpp"

namespace tillwrap::reference {

namespace {

// Open-circuit volts of an NCA 18650 cell (Kollmeyer 2018, doi:10.17632/wykht8y7tg.1, CC-BY-4.0), resampled at 401
// points so that a straight line between points and our smooth curve are the same to less than 0.1 mV above 2 % charge.
Curve fine_ocv() {
  const Curve measured(
      {0.0, 0.01, 0.02, 0.05, 0.10, 0.15, 0.20, 0.25, 0.30, 0.40, 0.50, 0.60, 0.70, 0.80, 0.90, 0.95, 1.0},
      {2.499, 2.940, 3.076, 3.256, 3.331, 3.402, 3.461, 3.509, 3.544, 3.602, 3.665, 3.770, 3.860, 3.946, 4.053, 4.094,
       4.170});
  std::vector<double> x(401);
  std::vector<double> y(401);
  for (std::size_t i = 0; i < x.size(); ++i) {
    x[i] = static_cast<double>(i) / 400.0;
    y[i] = measured.value(x[i]);
  }
  return {x, y};
}

}  // namespace

// 4S2P, 6.8 Ah, resistances of the size measured on such cells (36.5 mohm a cell at 25 °C and 0.5C, same set).
cell::PackParams plain_pack() {
  cell::PackParams pack;
  pack.label = "P";
  pack.series = 4;
  pack.parallel = 2;
  pack.electronics_ohm = 0.04;
  pack.heat_capacity_j_k = 1e12;  // isothermal
  pack.cooling_w_k = 0.0;
  pack.cell.ocv = fine_ocv();
  pack.cell.capacity_as = 3.4 * kSecondsPerHour;
  pack.cell.rated_ah = 3.4;
  pack.cell.series_ohm = 0.012;
  pack.cell.electrolyte_ohm = 0.012;
  pack.cell.rc_ohm = 0.014;
  pack.cell.rc_s = 35.0;
  pack.cell.lag_rate = {1.0, 1.0};
  pack.cell.diffusion_s = 1000.0;
  return pack;
}

// The full lithium form: two diffusion modes of a sphere, quasi-steady remainder, charge transfer.
cell::PackParams diffusing_pack() {
  cell::PackParams pack = plain_pack();
  pack.cell.lag_gain = {2.0 / 3.0, 2.0 / 3.0};
  pack.cell.lag_rate = {20.19, 59.68};
  pack.cell.surface_gain = 0.0225;
  pack.cell.diffusion_s = 8000.0;
  pack.cell.exchange_a = 0.8;
  pack.cell.exchange_alpha = 0.5;
  return pack;
}

void add_pack(Deck& deck, const std::string& k, const std::string& out, const cell::PackParams& pack, double charge,
              double temperature_k) {
  const cell::CellParams& c = pack.cell;
  const std::string cell_a = "(I(Vsense" + k + ")/" + number(pack.parallel) + ")";
  const std::string per_s = "(" + cell_a + "/" + number(c.capacity_as) + ")";
  deck.line("Cz" + k + " z" + k + " 0 " + number(c.capacity_as));
  deck.line(".ic V(z" + k + ")=" + number(charge) + " V(rc" + k + ")=0");
  deck.line(".nodeset V(" + out + ")=14 V(s" + k + ")=" + number(charge));
  deck.line("Bz" + k + " z" + k + " 0 I=" + cell_a);
  std::string surface = "V(z" + k + ")-" + number(c.surface_gain * c.diffusion_s) + "*" + per_s;
  for (std::size_t n = 0; n < c.lag_gain.size(); ++n) {
    if (c.lag_gain[n] == 0.0) continue;
    const std::string x = "x" + std::to_string(n) + k;
    deck.line("C" + x + " " + x + " 0 1");
    deck.line(".ic V(" + x + ")=0");
    deck.line("R" + x + " " + x + " 0 " + number(c.diffusion_s / c.lag_rate[n]));
    deck.line("B" + x + " 0 " + x + " I=" + number(c.lag_gain[n]) + "*" + per_s);
    surface += "-V(" + x + ")";
  }
  deck.line("Bs" + k + " s" + k + " 0 V=" + surface);
  std::string points;
  for (std::size_t i = 0; i < c.ocv.knots_x().size(); ++i) {
    points += "\n+ ," + number(c.ocv.knots_x()[i]) + "," + number(c.ocv.knots_y()[i]);
  }
  deck.line("Bu" + k + " u" + k + " 0 V=pwl(V(s" + k + ")" + points + "\n+ )");
  std::string cell_v = "V(u" + k + ")-" + cell_a + "*" + number(c.series_ohm + c.electrolyte_ohm) + "-V(rc" + k + ")";
  if (c.exchange_a > 0.0) {
    const double thermal_v = 2.0 * 8.314462618 * temperature_k / 96485.33212;  // 2RT/F, SI 2019
    cell_v += "-" + number(thermal_v) + "*asinh(" + cell_a + "/(" + number(2.0 * c.exchange_a) + "*(4*V(s" + k +
              ")*(1-V(s" + k + ")))^" + number(c.exchange_alpha) + "))";
  }
  deck.line("Brc" + k + " 0 rc" + k + " I=" + cell_a);
  deck.line("Rrc" + k + " rc" + k + " 0 " + number(c.rc_ohm));
  deck.line("Crc" + k + " rc" + k + " 0 " + number(c.rc_s / c.rc_ohm));
  deck.line("Bpack" + k + " p" + k + " 0 V=" + number(pack.series) + "*(" + cell_v + ")");
  deck.line("Vsense" + k + " p" + k + " q" + k + " 0");
  deck.line("Rpack" + k + " q" + k + " " + out + " " + number(pack.electronics_ohm));
}

}  // namespace tillwrap::reference
