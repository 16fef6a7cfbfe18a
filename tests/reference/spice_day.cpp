#include "reference/spice_day.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <utility>
#include <vector>

#include "quantity/quantity.hpp"

namespace tillwrap::reference {

namespace {

constexpr double kEdge_s = 2e-2;  // how long a switch takes
constexpr double kLeastOhm = 1e-6;
constexpr double kIsothermal_j_k = 1e9;
constexpr double kFreezingA = 1.0 / 273.15 - 1.0 / 298.15;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::string volts(const std::string& node) { return "V(" + node + ")"; }

class Circuit {
 public:
  Circuit(Deck& deck, const forecast::Model& model, const forecast::ChangePlan& plan, const SpiceDayOptions& options,
          std::string tag)
      : deck_(deck), model_(model), day_(model.day), plan_(plan), options_(options), tag_(std::move(tag)) {}

  void add() {
    deck_.line(".model sharp" + tag_ + " D(IS=1e-6 N=1e-3)");
    heat_.assign(day_.places.size(), "0");
    places();
    leads();
    devices();
    regulators();
    supplies();
    for (std::size_t h = 0; h < day_.holders.size(); ++h) holder(h);
    for (std::size_t p = 0; p < day_.places.size(); ++p) bag(p);
    for (int k = 0; options_.node_f > 0.0 && k < model_.topology.nodes; ++k) {
      deck_.line("Cnode" + node(k) + " " + node(k) + " 0 " + number(options_.node_f));
    }
  }

 private:
  using Steps = std::vector<std::pair<double, double>>;  // from this moment on, this value

  [[nodiscard]] std::string node(int k) const { return "n" + std::to_string(k) + tag_; }
  [[nodiscard]] std::string named(const std::string& what, std::size_t k) const {
    return what + std::to_string(k) + tag_;
  }
  [[nodiscard]] double since_start(double at_s) const { return at_s - day_.periods.front().from_s; }

  // A node holding a stepped value, or the number itself where it never changes.
  std::string stepped(const std::string& name, const Steps& steps) {
    const bool constant =
        std::all_of(steps.begin(), steps.end(), [&](const auto& s) { return s.second == steps.front().second; });
    if (constant) return number(steps.front().second);
    std::string text = "V" + name + " " + name + " 0 PWL(0 " + number(steps.front().second);
    for (std::size_t k = 1; k < steps.size(); ++k) {
      if (steps[k].second == steps[k - 1].second) continue;
      text += " " + number(steps[k].first) + " " + number(steps[k - 1].second) + "\n+ " +
              number(steps[k].first + kEdge_s) + " " + number(steps[k].second);
    }
    deck_.line(text + ")");
    return volts(name);
  }

  [[nodiscard]] std::string over_curve(const Curve& curve, const std::string& x, double from, double to) const {
    std::string text = "pwl(" + x;
    for (int i = 0; i <= options_.curve_points; ++i) {
      const double at_x = from + (to - from) * i / options_.curve_points;
      text += "\n+ ," + number(at_x) + "," + number(curve.value(at_x));
    }
    return text + "\n+ )";
  }

  // Kelvins of each place: a number, or the node that holds it.
  void places() {
    for (std::size_t p = 0; p < day_.places.size(); ++p) {
      const day::Place& place = day_.places[p];
      Steps steps;
      for (const day::Period& period : day_.periods) {
        const bool bag = place.kind == day::Place::Kind::bag;
        steps.emplace_back(since_start(period.from_s), bag ? period.air_k : day::place_k(place, period.air_k));
      }
      around_.push_back(stepped(named("air", p), steps));
      kelvin_.push_back(place.kind == day::Place::Kind::bag ? volts(named("bag", p)) : around_.back());
    }
  }

  [[nodiscard]] bool warms(int place) const { return day_.places[at(place)].kind == day::Place::Kind::bag; }

  void leads() {
    for (std::size_t k = 0; k < day_.leads.size(); ++k) {
      const day::Lead& lead = day_.leads[k];
      const std::string a = node(lead.from);
      const std::string b = node(lead.to);
      const double rest_ohm = lead.contact_ohm + (lead.fuse ? lead.fuse->ohm : 0.0);
      const double start_k = day::place_k(day_.places[at(lead.place)], day_.periods.front().air_k);
      const double start_ohm = lead.cable_ohm * day::copper_factor(start_k) + rest_ohm;
      if (selects(k)) continue;
      std::string end = b;
      if (lead.one_way) {
        end = named("one", k);
        deck_.line("D" + end + " " + end + " " + b + " sharp" + tag_);
      }
      if (warms(lead.place) && options_.copper_warms && lead.cable_ohm > 0.0) {
        const std::string ohm = "(" + number(rest_ohm) + "+" + number(lead.cable_ohm) + "*(1+0.00393*(" +
                                kelvin_[at(lead.place)] + "-293.15)))";
        deck_.line("B" + named("lead", k) + " " + a + " " + end + " I=V(" + a + "," + end + ")/" + ohm);
        heat_[at(lead.place)] += "+V(" + a + "," + end + ")^2/" + ohm;
      } else {
        deck_.line("R" + named("lead", k) + " " + a + " " + end + " " + number(std::max(start_ohm, kLeastOhm)));
        if (start_ohm > 0.0) heat_[at(lead.place)] += "+V(" + a + "," + end + ")^2/" + number(start_ohm);
      }
    }
  }

  // A lead inside a device with ranked inputs is a switch, see devices().
  [[nodiscard]] bool selects(std::size_t k) const {
    return std::any_of(day_.devices.begin(), day_.devices.end(), [&](const day::Device& device) {
      return device.inputs.size() > 1 && std::any_of(device.inputs.begin(), device.inputs.end(),
                                                     [&](const day::DeviceInput& in) { return at(in.lead) == k; });
    });
  }

  void devices() {
    for (std::size_t d = 0; d < day_.devices.size(); ++d) {
      const day::Device& device = day_.devices[d];
      if (device.inputs.size() > 2) throw std::invalid_argument("more than two ranked inputs");
      if (device.inputs.size() == 2) inputs(d);
      const std::string v = volts(node(device.port));
      const double cutoff_v = device.inputs.size() > 1 ? device.inputs.front().cutoff_v : device.cutoff_v;
      const std::string floor_v = number(std::max(0.8 * std::min(cutoff_v, lowest_cutoff(device)), 0.3));
      Steps watts;
      Steps amps;
      Steps siemens;
      for (const day::Period& period : day_.periods) {
        const day::Mode& mode = device.modes[at(period.mode[d])];
        const double from_s = since_start(period.from_s);
        const double power_w =
            mode.off || mode.power_w <= 0.0 ? 0.0 : (mode.power_w / device.efficiency + device.idle_w) * device.scale;
        watts.emplace_back(from_s, power_w);
        amps.emplace_back(from_s, mode.off ? 0.0 : mode.current_a * device.scale);
        siemens.emplace_back(from_s, mode.off ? 0.0 : mode.siemens * device.scale);
      }
      const std::string power = stepped(named("watts", d), watts);
      const std::string current = stepped(named("amps", d), amps);
      const std::string conductance = stepped(named("siemens", d), siemens);
      // P/V above the floor, P V/floor² below; so with a constant current.
      const std::string drawn = "(" + power + "*" + v + "/max(" + v + "," + floor_v + ")^2+" + current + "*" + v +
                                "/max(" + v + "," + floor_v + ")+" + conductance + "*" + v + ")";
      deck_.line("B" + named("load", d) + " " + node(device.port) + " 0 I=" + drawn);
      heat_[at(device.place)] += "+" + v + "*" + drawn;
    }
  }

  static double lowest_cutoff(const day::Device& device) {
    double lowest_v = device.cutoff_v > 0.0 ? device.cutoff_v : 1e9;
    for (const day::DeviceInput& input : device.inputs) {
      if (device.inputs.size() > 1) lowest_v = std::min(lowest_v, input.cutoff_v);
    }
    return lowest_v;
  }

  // The first input while its volts are good; the second from where they fall below its least until they are back.
  void inputs(std::size_t d) {
    const day::Device& device = day_.devices[d];
    const day::DeviceInput& first = device.inputs[0];
    const double middle_v = 0.5 * (first.least_v + first.return_v);
    const double half_v = 0.5 * (first.return_v - first.least_v);
    const std::string sensed = node(day_.leads[at(first.lead)].from);
    for (std::size_t i = 0; i < 2; ++i) {
      const day::Lead& lead = day_.leads[at(device.inputs[i].lead)];
      const std::string name = named("input" + std::to_string(i) + "_", d);
      const double ohm = std::max(lead.cable_ohm + lead.contact_ohm, kLeastOhm);
      deck_.line(".model " + name + " SW(VT=" + number(i == 0 ? middle_v : -middle_v) + " VH=" + number(half_v) +
                 " RON=" + number(ohm) + " ROFF=1e9)");
      deck_.line("S" + name + " " + node(lead.from) + " " + node(lead.to) +
                 (i == 0 ? " " + sensed + " 0 " : " 0 " + sensed + " ") + name + (i == 0 ? " ON" : " OFF"));
    }
  }

  void regulators() {
    for (std::size_t k = 0; k < day_.regulators.size(); ++k) {
      const day::Regulator& regulator = day_.regulators[k];
      const wiring::RegulatorLaw& law = regulator.law;
      const std::string in_v = volts(node(regulator.in_port));
      const std::string inner = named("reg", k);
      const std::string sense = named("regsense", k);
      // Off without an input, up again within hundredths of a second.
      const std::string on = named("regon", k);
      deck_.line("B" + on + " " + on + "x 0 V=min(1,max(0,4*" + in_v + "/" + number(std::max(law.min_in_v, 0.4)) +
                 "-2))");
      deck_.line("R" + on + " " + on + "x " + on + " 1000");
      deck_.line("C" + on + " " + on + " 0 1e-5");
      const std::string set = "(" + number(law.set_v) + "*" + volts(on) + ")";
      deck_.line("B" + inner + " " + inner + " 0 V=" + set);
      deck_.line("V" + sense + " " + inner + " " + sense + " 0");
      deck_.line("R" + inner + " " + sense + " " + node(regulator.out_port) + " " +
                 number(std::max(law.out_ohm, 1e-6)));
      const std::string out_w = "(I(V" + sense + ")*" + set + ")";
      const std::string least = number(std::max(0.5 * law.min_in_v, 0.1));
      const std::string safe_v = "max(" + in_v + "," + least + ")";
      const std::string drawn = "((" + number(law.idle_w) + "+" + number(law.slope) + "*" + out_w + ")*" + in_v + "/" +
                                safe_v + "^2+" + number(law.square_ohm) + "*" + out_w + "^2*" + in_v + "/" + safe_v +
                                "^4)";
      deck_.line("B" + named("drawn", k) + " " + node(regulator.in_port) + " 0 I=" + drawn);
      heat_[at(regulator.place)] +=
          "+" + in_v + "*" + drawn + "-" + volts(node(regulator.out_port)) + "*I(V" + sense + ")";
    }
  }

  void supplies() {
    for (std::size_t k = 0; k < day_.supplies.size(); ++k) {
      if (day_.supplies[k].port >= 0) throw std::invalid_argument("a supply in the circuit");
    }
  }

  void holder(std::size_t h) {
    const day::Holder& holder = day_.holders[h];
    if (model_.holder_branch[h] < 0) throw std::invalid_argument("a bank or a charger bay in the circuit");
    const std::string contacts = node(model_.holder_node[h]);
    std::string end = contacts;
    if (holder.one_way) {
      end = named("diode", h);
      deck_.line("D" + end + " " + contacts + " " + end + "x sharp" + tag_);
      deck_.line("V" + end + " " + end + "x " + end + " " + number(holder.drop_v));
    }
    deck_.line("R" + named("contact", h) + " " + end + " " + node(holder.port) + " " +
               number(std::max(holder.contact_ohm, kLeastOhm)));
    heat_[at(holder.place)] += "+0";
    bool first = true;
    for (std::size_t k = 0; k < plan_.size(); ++k) {
      if (plan_[k].holder != static_cast<int>(h)) continue;
      double out_s = forecast::kNever;
      for (const forecast::PlannedChange& other : plan_) {
        if (other.holder == plan_[k].holder && other.at_s > plan_[k].at_s) out_s = std::min(out_s, other.at_s);
      }
      pack_in(h, plan_[k].pack, first ? plan_[k].at_s : plan_[k].at_s + holder.gap_s, out_s);
      first = false;
    }
  }

  void pack_in(std::size_t h, int p, double in_s, double out_s) {
    const day::Holder& holder = day_.holders[h];
    const day::Pack& pack = day_.packs[at(p)];
    const std::string contacts = node(model_.holder_node[h]);
    const std::string terminals = named("q", at(p));
    Steps steps{{0.0, since_start(in_s) <= 0.0 ? 1.0 : 0.0}};
    if (since_start(in_s) > 0.0) steps.emplace_back(since_start(in_s), 1.0);
    if (out_s < forecast::kNever) steps.emplace_back(since_start(out_s), 0.0);
    const std::string in = stepped(named("in", at(p)), steps);
    if (steps.size() == 1) {
      deck_.line("R" + named("door", at(p)) + " " + terminals + " " + contacts + " " + number(kLeastOhm));
    } else {
      // From 1 Gohm to 10 microhm along a straight line of the logarithm.
      deck_.line("B" + named("door", at(p)) + " " + terminals + " " + contacts + " I=V(" + terminals + "," + contacts +
                 ")*exp(-20.72+32.23*" + in + ")");
    }
    if (pack.params.idle_a > 0.0) {
      const std::string v = volts(contacts);
      deck_.line("B" + named("idle", at(p)) + " " + contacts + " 0 I=" + number(pack.params.idle_a) + "*" + in + "*" +
                 v + "/max(" + v + ",0.5)");
    }
    // Where it waits, and where it works.
    const std::string own = kelvin_[at(holder.place)];
    const std::string around = holder.place == pack.spare_place
                                   ? own
                                   : "(" + in + "*" + own + "+(1-" + in + ")*" + kelvin_[at(pack.spare_place)] + ")";
    const double start_k = day::place_k(day_.places[at(pack.spare_place)], day_.periods.front().air_k);
    insides(at(p), pack.params, pack.start_charge, around, start_k);
    if (pack.params.heat_capacity_j_k >= kIsothermal_j_k) return;
    heat_[at(holder.place)] +=
        "+" + number(pack.params.cooling_w_k) + "*" + in + "*(V(" + named("hot", at(p)) + ")-" + own + ")";
  }

  // Terminal volts of a cell and what it loses, as expressions of its charge node and capacity.
  struct Cell {
    std::string v, lost;
  };

  Cell cell(const std::string& name, const cell::CellParams& c, const std::string& charge, double fraction,
            const std::string& k, const std::string& cell_a, const std::string& a, const std::string& kelvin) {
    const double q = fraction * c.capacity_as;
    std::string surface = volts(charge) + "-" + number(c.surface_gain / q) + "*" + volts("td" + k) + "*" + cell_a;
    if (!c.diffusion_shape.empty())
      surface = volts(charge) + "-" + number(c.surface_gain / q) + "*" + volts("td" + k) + "*" +
                over_curve(c.diffusion_shape, volts(charge), -0.05, 1.0) + "*" + cell_a;
    for (std::size_t n = 0; n < 2; ++n) {
      if (c.lag_gain[n] != 0.0) surface += "-V(x" + std::to_string(n) + k + ")/" + number(fraction);
    }
    deck_.line("Bs" + name + " s" + name + " 0 V=" + surface);
    const std::string s = "V(s" + name + ")";
    std::string reached = s;
    if (c.cold_tail > 0.0) {
      const std::string tail = "(" + number(c.cold_tail / kFreezingA) + "*max(0," + a + "))";
      const std::string u = "(1-" + s + "/" + number(c.cold_tail_width) + ")";
      const std::string taken = "(" + s + "<0 ? 2*" + u + "-1 : max(0," + u + ")^2)";
      deck_.line("Br" + name + " r" + name + " 0 V=" + s + "-" + tail + "*" + taken);
      reached = "V(r" + name + ")";
    }
    deck_.line("Bu" + name + " u" + name + " 0 V=" + over_curve(c.ocv, reached, -0.1, 1.0));
    deck_.line("Bo" + name + " o" + name + " 0 V=" + over_curve(c.ocv, volts(charge), -0.1, 1.0));
    std::string ohm = number(c.electrolyte_ohm) + "*V(el" + k + ")";
    if (!c.resistance_shape.empty()) ohm += "*" + over_curve(c.resistance_shape, volts(charge), -0.05, 1.0);
    std::string drop = cell_a + "*(" + number(c.series_ohm) + "+" + ohm + ")+V(rc" + k + ")";
    if (c.exchange_a > 0.0) {
      std::string share;
      if (!c.exchange_shape.empty()) {
        share = over_curve(c.exchange_shape, s, -0.1, 1.0);
      } else {
        const std::string charged = "(4*" + s + "*(1-" + s + "))";
        share = "(0.5*(" + charged + "+sqrt(" + charged + "^2+1e-4)))^" + number(c.exchange_alpha);
      }
      const double twice_r_over_f = 2.0 * 8.31446261815324 / 96485.33212331002;
      const std::string transfer_a = c.exchange_s > 0.0 ? volts("it" + k) : cell_a;
      drop += "+" + number(c.exchange_electrodes * twice_r_over_f) + "*" + kelvin + "*asinh(" + transfer_a + "/(" +
              number(2.0 * c.exchange_a) + "*exp(-" + number(c.exchange_activation_k) + "*" + a + ")*" + share + "))";
    }
    deck_.line("Bd" + name + " d" + name + " 0 V=" + drop);
    return {"(V(u" + name + ")-V(d" + name + "))", "(V(o" + name + ")-V(u" + name + ")+V(d" + name + "))"};
  }

  void insides(std::size_t p, const cell::PackParams& pack, double charge, const std::string& around, double start_k) {
    const std::string k = "_" + std::to_string(p) + tag_;
    const cell::CellParams& c = pack.cell;
    const std::string amps = "I(Vsense" + k + ")";
    const std::string cell_a = "(" + amps + "/" + number(pack.parallel) + ")";
    const bool isothermal = pack.heat_capacity_j_k >= kIsothermal_j_k;
    const std::string hot = named("hot", p);
    const std::string kelvin = isothermal ? number(start_k) : volts(hot);
    const std::string a = "(1/" + kelvin + "-" + number(1.0 / kReferenceK) + ")";
    deck_.line("Btd" + k + " td" + k + " 0 V=" + number(c.diffusion_s) + "*exp(" + number(c.diffusion_activation_k) +
               "*" + a + ")");
    deck_.line("Bel" + k + " el" + k + " 0 V=exp(" + number(c.electrolyte_activation_k) + "*" + a + ")");
    deck_.line("Cz" + k + " z" + k + " 0 " + number(c.capacity_as));
    deck_.line("Bz" + k + " z" + k + " 0 I=" + cell_a);
    std::string start = " V(z" + k + ")=" + number(charge) + " V(rc" + k + ")=0";
    for (std::size_t n = 0; n < 2; ++n) {
      if (c.lag_gain[n] == 0.0) continue;
      const std::string x = "x" + std::to_string(n) + k;
      std::string td = volts("td" + k);
      if (!c.diffusion_shape.empty()) td += "*" + over_curve(c.diffusion_shape, "V(z" + k + ")", -0.05, 1.0);
      deck_.line("C" + x + " " + x + " 0 1");
      deck_.line("B" + x + " 0 " + x + " I=" + number(c.lag_gain[n] / c.capacity_as) + "*" + cell_a + "-V(" + x + ")*" +
                 number(c.lag_rate[n]) + "/(" + td + ")");
      start += " V(" + x + ")=0";
    }
    deck_.line("Crc" + k + " rc" + k + " 0 " + number(c.rc_s));
    deck_.line("Brc" + k + " 0 rc" + k + " I=" + cell_a + "*" + number(c.rc_ohm) + "*V(el" + k + ")-V(rc" + k + ")");
    if (c.exchange_a > 0.0 && c.exchange_s > 0.0) {
      deck_.line("Cit" + k + " it" + k + " 0 " + number(c.exchange_s));
      deck_.line("Bit" + k + " 0 it" + k + " I=(" + cell_a + "-V(it" + k + "))*exp(-" +
                 number(c.exchange_activation_k) + "*" + a + ")");
      start += " V(it" + k + ")=0";
    }
    const Cell ordinary = cell(k, c, "z" + k, 1.0, k, cell_a, a, kelvin);
    std::string v = number(pack.series) + "*" + ordinary.v;
    std::string lost = number(pack.series) + "*" + ordinary.lost;
    if (pack.weak_fraction != 1.0) {
      const std::string w = "w" + k;
      deck_.line("Cz" + w + " z" + w + " 0 " + number(pack.weak_fraction * c.capacity_as));
      deck_.line("Bz" + w + " z" + w + " 0 I=" + cell_a);
      start += " V(z" + w + ")=" + number(charge);
      const Cell weak = cell(w, c, "z" + w, pack.weak_fraction, k, cell_a, a, kelvin);
      v = number(pack.series - 1) + "*" + ordinary.v + "+" + weak.v;
      lost = number(pack.series - 1) + "*" + ordinary.lost + "+" + weak.lost;
    }
    if (!isothermal) {
      deck_.line("C" + hot + " " + hot + " 0 " + number(pack.heat_capacity_j_k));
      deck_.line("B" + hot + " 0 " + hot + " I=" + amps + "*(" + lost + "+" + amps + "*" +
                 number(pack.electronics_ohm) + ")-" + number(pack.cooling_w_k) + "*(V(" + hot + ")-" + around + ")");
      start += " V(" + hot + ")=" + number(start_k);
    }
    deck_.line("Bpack" + k + " p" + k + " 0 V=" + v);
    deck_.line("Vsense" + k + " p" + k + " m" + k + " 0");
    deck_.line("Rpack" + k + " m" + k + " " + named("q", p) + " " + number(std::max(pack.electronics_ohm, kLeastOhm)));
    deck_.line(".ic" + start);
    const double open_v = pack.series * c.ocv.value(charge);
    deck_.line(".nodeset V(" + named("q", p) + ")=" + number(open_v) + " V(s" + k + ")=" + number(charge) + " V(u" + k +
               ")=" + number(c.ocv.value(charge)));
  }

  void bag(std::size_t p) {
    const day::Place& place = day_.places[p];
    if (place.kind != day::Place::Kind::bag || heat_[p] == "0") {
      if (place.kind == day::Place::Kind::bag)
        deck_.line("V" + named("bag", p) + " " + named("bag", p) + " 0 " + number(day_.periods.front().air_k));
      return;
    }
    const std::string name = named("bag", p);
    deck_.line("C" + name + " " + name + " 0 " + number(place.heat_capacity_j_k));
    deck_.line("B" + name + " 0 " + name + " I=" + heat_[p] + "-" + number(place.cooling_w_k) + "*(V(" + name + ")-" +
               around_[p] + ")");
    deck_.line(".ic V(" + name + ")=" + number(day::place_k(place, day_.periods.front().air_k)));
  }

  Deck& deck_;
  const forecast::Model& model_;
  const day::Scenario& day_;
  const forecast::ChangePlan& plan_;
  const SpiceDayOptions& options_;
  std::string tag_;
  std::vector<std::string> around_;  // of each place, what its warmth is drawn to
  std::vector<std::string> kelvin_;
  std::vector<std::string> heat_;  // electrical, by place
};

}  // namespace

void add_day(Deck& deck, const forecast::Model& model, const forecast::ChangePlan& plan, const SpiceDayOptions& options,
             const std::string& tag) {
  Circuit(deck, model, plan, options, tag).add();
}

}  // namespace tillwrap::reference
