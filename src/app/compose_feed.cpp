#include "app/compose_feed.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/compose.hpp"
#include "quantity/order.hpp"

namespace tillwrap::app {

namespace {

using catalogue::BoxKind;
using catalogue::BoxOutput;
using catalogue::Catalogue;
using catalogue::DeviceInput;
using catalogue::HolderKind;
using catalogue::PackKind;

// A source that gives constant power near its end does so at about this share of its nominal volts: amps are sized
// there.
constexpr double kLowShare = 0.85;
constexpr std::size_t kMostOnOneOutput = 2;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

bool external(const DeviceInput& input) { return !input.plug.ends_with("contacts"); }
bool usb(const DeviceInput& input) { return input.plug.starts_with("usb-"); }

bool takes(const DeviceInput& input, const Volts& volts) {
  return (input.most_v <= 0.0 || volts.full_v <= input.most_v * 1.001) &&
         volts.nominal_v >= std::max(input.least_v, input.restart_v);
}

bool wants_feed(const FeedUnit& unit) {
  return !unit.on_cells && std::any_of(unit.kind->inputs.begin(), unit.kind->inputs.end(), external);
}

// Holders that are part of a device: nothing but that device runs from them, unless they have a lead.
bool inside_a_device(const HolderKind& holder, const Catalogue& catalogue) {
  return std::any_of(catalogue.devices.begin(), catalogue.devices.end(), [&](const catalogue::DeviceKind& kind) {
    return std::find(kind.holders.begin(), kind.holders.end(), holder.id) != kind.holders.end();
  });
}

struct Arrangement {
  const HolderKind* holder = nullptr;
  const BoxKind* box = nullptr;
  int holders = 1;
  bool by_lead = false;
  int built_in = -1;  // unit the holder is part of
  int direct = -1;    // unit at the end of the holder's lead
};

struct Failure {
  int unit = -1;
  std::string message, hint;
};

struct Option {
  int cost = 0;
  int output = 0;
  int input = 0;
};

class Feeder {
 public:
  Feeder(const std::vector<FeedUnit>& units, const PackKind* pack, int packs, double level_v,
         const Catalogue& catalogue)
      : units_(units), pack_(pack), packs_(packs), level_v_(level_v), catalogue_(catalogue) {
    if (pack_ != nullptr) volts_ = pack_volts(*pack_, level_v_, catalogue_);
  }

  std::vector<Arrangement> arrangements(const std::string& only_holder) const {
    std::vector<Arrangement> parts, leads, all;
    std::vector<int> fed;
    for (std::size_t u = 0; u < units_.size(); ++u) {
      if (wants_feed(units_[u])) fed.push_back(static_cast<int>(u));
    }
    for (const HolderKind& holder : catalogue_.holders) {
      if (!only_holder.empty() && holder.id != only_holder) continue;
      if (std::find(holder.fits.begin(), holder.fits.end(), pack_->id) == holder.fits.end()) continue;
      const bool inside = inside_a_device(holder, catalogue_);
      const bool has_lead = !holder.plug.empty() || !pack_->plug.empty();
      if (inside) {
        for (std::size_t u = 0; u < units_.size(); ++u) {
          const auto& kind = *units_[u].kind;
          if (units_[u].on_cells) continue;
          if (std::find(kind.holders.begin(), kind.holders.end(), holder.id) == kind.holders.end()) continue;
          const std::string contacts = catalogue::contacts_of(holder);
          const auto inputs = static_cast<int>(std::count_if(
              kind.inputs.begin(), kind.inputs.end(), [&](const auto& input) { return input.plug == contacts; }));
          all.push_back({.holder = &holder, .holders = std::clamp(inputs, 1, packs_), .built_in = static_cast<int>(u)});
          break;
        }
      }
      if (has_lead && fed.size() == 1) all.push_back({.holder = &holder, .direct = fed.front()});
      for (const BoxKind& box : catalogue_.boxes) {
        const auto cups = static_cast<int>(std::count(box.inputs.begin(), box.inputs.end(), holder.id));
        if (cups > 0) parts.push_back({.holder = &holder, .box = &box, .holders = std::min(cups, packs_)});
        if (cups > 0 || (inside && !has_lead) || catalogue_.connector(box.inputs.front()) == nullptr) continue;
        leads.push_back({.holder = &holder,
                         .box = &box,
                         .holders = std::min(static_cast<int>(box.inputs.size()), packs_),
                         .by_lead = true});
      }
    }
    const auto smaller = [](const Arrangement& a, const Arrangement& b) {
      return a.box->outputs.size() < b.box->outputs.size();
    };
    sort_stably(parts, smaller);
    sort_stably(leads, smaller);
    all.insert(all.end(), parts.begin(), parts.end());
    all.insert(all.end(), leads.begin(), leads.end());
    return all;
  }

  std::optional<MainFeed> feed(const Arrangement& by, Failure& failure) const {
    MainFeed made{.pack = pack_,
                  .holder = by.holder,
                  .box = by.box,
                  .holders = by.holders,
                  .level_v = level_v_,
                  .volts = volts_,
                  .by_lead = by.by_lead,
                  .feeds = std::vector<UnitFeed>(units_.size())};
    std::vector<std::size_t> waiting;
    double watts = by.box != nullptr ? by.box->idle_w : 0.0;
    for (std::size_t u = 0; u < units_.size(); ++u) {
      if (static_cast<int>(u) == by.built_in) {
        made.feeds[u] = {.from = UnitFeed::From::built_in};
        watts += units_[u].watts;
      } else if (static_cast<int>(u) == by.direct) {
        const int input = first_input(units_[u], volts_);
        if (input < 0) {
          failure = {static_cast<int>(u), fmt::format("{} does not run from {}", name(u), pack_->id), range(units_[u])};
          return std::nullopt;
        }
        made.feeds[u] = {.from = UnitFeed::From::direct, .input = input};
        watts += units_[u].watts;
      } else if (wants_feed(units_[u])) {
        waiting.push_back(u);
      }
    }
    std::vector<std::size_t> left = waiting;
    if (by.box != nullptr) left = on_outputs(*by.box, waiting, made);
    for (const std::size_t u : left) {
      if (!otherwise(by.box, u, made, failure) && !own_plate(by, u, made)) return std::nullopt;
    }
    for (const std::size_t u : waiting) {
      if (made.feeds[u].from == UnitFeed::From::box) watts += units_[u].watts;
    }
    if (!carries(by, watts, failure)) return std::nullopt;
    return made;
  }

  // Without a main pack: everything on its own cells or bank.
  MainFeed alone() const {
    MainFeed made{.feeds = std::vector<UnitFeed>(units_.size())};
    for (std::size_t u = 0; u < units_.size(); ++u) {
      Failure failure;
      if (!wants_feed(units_[u]) || units_[u].can_cells) continue;
      if (!otherwise(nullptr, u, made, failure)) {
        throw CannotWire(units_[u].wish, fmt::format("{} has no cells of its own", name(u)),
                         "choose a pack for the bag or cart");
      }
    }
    return made;
  }

 private:
  std::string name(std::size_t u) const { return "\"" + units_[u].name + "\""; }

  static std::string range(const FeedUnit& unit) {
    for (const DeviceInput& input : unit.kind->inputs) {
      if (external(input)) return fmt::format("it takes {:g} to {:g} V", input.least_v, input.most_v);
    }
    return "it runs on cells only";
  }

  static int first_input(const FeedUnit& unit, const Volts& volts) {
    for (std::size_t i = 0; i < unit.kind->inputs.size(); ++i) {
      if (external(unit.kind->inputs[i]) && takes(unit.kind->inputs[i], volts)) return static_cast<int>(i);
    }
    return -1;
  }

  double amps(std::size_t u, const BoxOutput& output) const {
    return output.regulator ? feed_amps(units_[u].watts, output.regulator->output_v, true)
                            : feed_amps(units_[u].watts, volts_.nominal_v, pack_->regulator.has_value());
  }

  double plug_amps(const std::string& id) const {
    const catalogue::ConnectorKind* kind = catalogue_.connector(id);
    return kind == nullptr || kind->rating_a <= 0.0 ? 1e9 : kind->rating_a;
  }

  std::vector<Option> options(const BoxKind& box, std::size_t u) const {
    std::vector<Option> found;
    const auto& inputs = units_[u].kind->inputs;
    for (std::size_t o = 0; o < box.outputs.size(); ++o) {
      const BoxOutput& output = box.outputs[o];
      const Volts volts = output.regulator ? Volts{output.regulator->output_v, output.regulator->output_v} : volts_;
      const double drawn_a = amps(u, output);
      if (drawn_a > output_amps(output, catalogue_)) continue;
      for (std::size_t i = 0; i < inputs.size(); ++i) {
        if (!external(inputs[i]) || !takes(inputs[i], volts) || drawn_a > plug_amps(inputs[i].plug)) continue;
        // The same plug at both ends before another, plain volts before the one regulated output, switched before
        // always on; what loses its clock with its power belongs on the output the switch leaves alone.
        const bool keeps_time = units_[u].kind->family == "timecode";
        const int cost = (output.plug == inputs[i].plug ? 0 : 2) + (output.regulator ? 8 : 0) +
                         (output.always_on == keeps_time ? 0
                          : keeps_time                   ? 3
                                                         : 6);
        found.push_back({cost, static_cast<int>(o), static_cast<int>(i)});
        break;
      }
    }
    sort_stably(found, [](const Option& a, const Option& b) { return a.cost < b.cost; });
    return found;
  }

  // Augmenting paths: as many devices on outputs of their own as the box allows. What is left over is returned.
  std::vector<std::size_t> on_outputs(const BoxKind& box, std::vector<std::size_t> waiting, MainFeed& made) const {
    sort_stably(waiting, [&](std::size_t a, std::size_t b) {
      return (units_[a].kind->family == "recorder") > (units_[b].kind->family == "recorder");
    });
    std::vector<std::vector<Option>> of(units_.size());
    for (const std::size_t u : waiting) of[u] = options(box, u);
    std::vector<int> owner(box.outputs.size(), -1);
    const auto place = [&](const auto& self, std::size_t u, std::vector<char>& seen) -> bool {
      for (const bool free_only : {true, false}) {
        for (const Option& option : of[u]) {
          int& held = owner[at(option.output)];
          if (free_only ? held >= 0 : (seen[at(option.output)] != 0)) continue;
          seen[at(option.output)] = 1;
          if (held >= 0 && !self(self, at(held), seen)) continue;
          owner[at(option.output)] = static_cast<int>(u);
          made.feeds[u] = {.from = UnitFeed::From::box, .output = option.output, .input = option.input};
          return true;
        }
      }
      return false;
    };
    std::vector<std::size_t> left;
    for (const std::size_t u : waiting) {
      std::vector<char> seen(box.outputs.size(), 0);
      if (!place(place, u, seen)) left.push_back(u);
    }
    return left;
  }

  // Cells of its own, a bank of its own, or an output with a splitter lead.
  bool otherwise(const BoxKind* box, std::size_t u, MainFeed& made, Failure& failure) const {
    const FeedUnit& unit = units_[u];
    if (unit.can_cells && unit.kind->family != "recorder") {
      made.feeds[u] = {.from = UnitFeed::From::cells};
      return true;
    }
    if (const auto bank = own_bank(unit)) {
      made.feeds[u] = *bank;
      return true;
    }
    if (box != nullptr) {
      for (const Option& option : options(*box, u)) {
        const BoxOutput& output = box->outputs[at(option.output)];
        double sum_a = amps(u, output);
        std::vector<std::size_t> others;
        for (std::size_t other = 0; other < units_.size(); ++other) {
          if (made.feeds[other].from != UnitFeed::From::box || made.feeds[other].output != option.output) continue;
          others.push_back(other);
          sum_a += amps(other, output);
        }
        if (others.size() >= kMostOnOneOutput || sum_a > output_amps(output, catalogue_)) continue;
        made.feeds[u] = {.from = UnitFeed::From::box, .output = option.output, .input = option.input, .shared = true};
        for (const std::size_t other : others) made.feeds[other].shared = true;
        made.shared += 1;
        return true;
      }
    }
    if (unit.can_cells) {  // a recorder on the cells in its tray
      made.feeds[u] = {.from = UnitFeed::From::cells};
      return true;
    }
    const bool fits = box != nullptr && !options(*box, u).empty();
    failure = {static_cast<int>(u),
               fits               ? fmt::format("{} has no output left for {}", box->id, name(u))
               : box != nullptr   ? fmt::format("{} has no output for {} with {}", box->id, name(u), pack_->id)
               : pack_ != nullptr ? fmt::format("nothing feeds {} from {} without a box", name(u), pack_->id)
                                  : fmt::format("nothing feeds {}", name(u)),
               range(unit)};
    return false;
  }

  // Beside a recorder with its packs on it: a plate with a lead and packs of the same kind, as a bag without a box has.
  bool own_plate(const Arrangement& by, std::size_t u, MainFeed& made) const {
    const int input = first_input(units_[u], volts_);
    if (by.built_in < 0 || input < 0 || !by.holder->id.starts_with("plate-")) return false;
    const double drawn_a = feed_amps(units_[u].watts, volts_.nominal_v, pack_->regulator.has_value());
    if (by.holder->rating_a > 0.0 && drawn_a > by.holder->rating_a) return false;
    made.feeds[u] = {.from = UnitFeed::From::own_plate, .input = input};
    return true;
  }

  std::optional<UnitFeed> own_bank(const FeedUnit& unit) const {
    for (std::size_t i = 0; i < unit.kind->inputs.size(); ++i) {
      const DeviceInput& input = unit.kind->inputs[i];
      if (!usb(input)) continue;
      for (const PackKind& bank : catalogue_.packs) {
        if (!bank.travel.is_power_bank || !bank.plug.starts_with("usb-") || !bank.regulator) continue;
        if (unit.watts > 0.8 * bank.regulator->most_w) continue;
        const double plug_a = std::min(plug_amps(bank.plug), plug_amps(input.plug));
        std::vector<catalogue::PowerProfile> levels = bank.profiles;
        if (levels.empty()) levels.push_back({bank.regulator->output_v, 1e9});
        for (const catalogue::PowerProfile& level : levels) {
          const double drawn_a = unit.watts / level.volts;
          if (!takes(input, {level.volts, level.volts}) || drawn_a > std::min(plug_a, level.most_a)) continue;
          return UnitFeed{.from = UnitFeed::From::own_bank,
                          .input = static_cast<int>(i),
                          .bank = bank.id,
                          .bank_v = bank.profiles.empty() ? 0.0 : level.volts};
        }
      }
    }
    return std::nullopt;
  }

  // Main fuse, holder, pack.
  bool carries(const Arrangement& by, double watts, Failure& failure) const {
    const double together_a = feed_amps(watts, volts_.nominal_v, pack_->regulator.has_value());
    const auto refuse = [&](const std::string& what, double most_a) {
      failure = {
          -1,
          fmt::format("all of it draws up to {:.1f} A, and {} carries {:.1f} A for hours", together_a, what, most_a),
          "take devices out, or run some on cells"};
      return false;
    };
    if (by.box != nullptr && !by.box->main_fuse.empty()) {
      const catalogue::FuseKind* fuse = catalogue_.fuse(by.box->main_fuse);
      const double most_a = by.box->main_fuse_a * fuse->long_fraction;
      if (together_a > most_a) return refuse("the main fuse of " + by.box->id, most_a);
    }
    if (by.holder->rating_a > 0.0 && together_a > by.holder->rating_a)
      return refuse(by.holder->id, by.holder->rating_a);
    double pack_a = pack_->protection.over_current_a > 0.0 ? pack_->protection.over_current_a : 1e9;
    if (pack_->regulator && pack_->regulator->most_w > 0.0)
      pack_a = std::min(pack_a, pack_->regulator->most_w / volts_.nominal_v);
    for (const catalogue::PowerProfile& level : pack_->profiles) {
      if (level.volts == level_v_) pack_a = std::min(pack_a, level.most_a);
    }
    if (together_a > pack_a) return refuse(pack_->id, pack_a);
    return true;
  }

  const std::vector<FeedUnit>& units_;
  const PackKind* pack_;
  int packs_;
  double level_v_;
  const Catalogue& catalogue_;
  Volts volts_;
};

}  // namespace

Volts pack_volts(const PackKind& pack, double level_v, const Catalogue& catalogue) {
  if (level_v > 0.0) return {level_v, level_v};
  if (pack.regulator) return {pack.regulator->output_v, pack.regulator->output_v};
  const catalogue::CellKind* cell = catalogue.cell(pack.cell);
  const double full_v = pack.charge_volts > 0.0 ? pack.charge_volts : pack.series * cell->params.ocv.value(1.0);
  return {pack.nominal_v, full_v};
}

double feed_amps(double watts, double nominal_v, bool regulated) {
  return watts / (regulated ? nominal_v : kLowShare * nominal_v);
}

double output_amps(const BoxOutput& output, const Catalogue& catalogue) {
  double most_a = 1e9;
  if (!output.fuse.empty()) most_a = output.fuse_a * catalogue.fuse(output.fuse)->long_fraction;
  if (const catalogue::ConnectorKind* plug = catalogue.connector(output.plug); plug != nullptr && plug->rating_a > 0.0)
    most_a = std::min(most_a, plug->rating_a);
  if (output.regulator && output.regulator->most_w > 0.0)
    most_a = std::min(most_a, output.regulator->most_w / output.regulator->output_v);
  return most_a;
}

MainFeed main_feed(const std::vector<FeedUnit>& units, const PackKind* pack, int packs, const std::string& holder,
                   const std::string& box, const Catalogue& catalogue) {
  const Feeder alone(units, nullptr, packs, 0.0, catalogue);
  if (pack == nullptr) return alone.alone();
  std::optional<MainFeed> best;
  const auto better = [](const MainFeed& a, const MainFeed& b) {
    const auto on_cells = [](const MainFeed& of) {
      return std::count_if(of.feeds.begin(), of.feeds.end(),
                           [](const UnitFeed& feed) { return feed.from == UnitFeed::From::cells; });
    };
    return a.shared != b.shared ? a.shared < b.shared : on_cells(a) < on_cells(b);
  };
  bool unused = false;
  Failure last;
  std::string would_do;
  std::vector<double> levels;
  for (const catalogue::PowerProfile& level : pack->profiles) levels.insert(levels.begin(), level.volts);
  if (levels.empty()) levels.push_back(0.0);
  for (const double level_v : levels) {
    const Feeder feeder(units, pack, packs, level_v, catalogue);
    for (const Arrangement& by : feeder.arrangements(holder)) {
      const bool asked = box.empty() || (by.box != nullptr && by.box->id == box);
      Failure failure;
      std::optional<MainFeed> made = feeder.feed(by, failure);
      if (!asked) {
        if (made && by.box != nullptr && would_do.empty()) would_do = by.box->id;
        continue;
      }
      if (made) {
        const bool uses_it = std::any_of(made->feeds.begin(), made->feeds.end(), [](const UnitFeed& feed) {
          return feed.from == UnitFeed::From::box || feed.from == UnitFeed::From::direct ||
                 feed.from == UnitFeed::From::built_in;
        });
        unused = unused || !uses_it;
        if (uses_it && (!best || better(*made, *best))) best = std::move(made);
      } else {
        last = failure;
      }
    }
  }
  if (best) return *best;
  if (unused) return alone.alone();
  if (last.message.empty())
    throw CannotWire(-1,
                     fmt::format("{} goes into no {} that feeds these devices", pack->id, box.empty() ? "holder" : box),
                     would_do.empty() ? "choose another pack" : fmt::format("{} does", would_do));
  std::string advice = last.hint;
  if (!would_do.empty()) advice = fmt::format("{} does: take that box", would_do);
  throw CannotWire(last.unit < 0 ? -1 : units[at(last.unit)].wish, last.message, advice);
}

}  // namespace tillwrap::app
