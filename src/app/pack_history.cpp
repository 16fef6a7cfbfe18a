#include "app/pack_history.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/health_bands.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

// One standard deviation where a test does not say its own; common practice, no source.
constexpr double kCapacitySd = 0.03;
constexpr double kResistanceSd = 0.15;
constexpr double kFieldResistanceSd = 0.3;  // of any number of days in use: packs of a kind differ by as much
constexpr double kSaidHealthSd = 0.05;      // of the health somebody said on acquiring it

double years(std::int64_t at_us, std::int64_t now_us) { return static_cast<double>(at_us - now_us) / kYear_us; }

std::optional<std::int64_t> new_at_us(const journal::PackState& pack) {
  if (!pack.bought.empty()) return journal::parse_moment(pack.bought + "T12:00:00Z").us;
  if (pack.acquired) return pack.acquired->us;
  return std::nullopt;
}

// Results that are off alike, as one: their mean at their mean time, never better than `least_sd`.
class Pooled {
 public:
  void add(double at_years, double value, double sd) {
    weight_ += 1.0 / (sd * sd);
    sum_ += value / (sd * sd);
    when_ += at_years / (sd * sd);
    ++count_;
  }
  [[nodiscard]] std::size_t count() const { return count_; }
  [[nodiscard]] health::Result result(double least_sd) const {
    return {when_ / weight_, sum_ / weight_, std::max(1.0 / std::sqrt(weight_), least_sd)};
  }

 private:
  double weight_ = 0.0, sum_ = 0.0, when_ = 0.0;
  std::size_t count_ = 0;
};

// `used` lines from charge to charge.
void add_field_days(const journal::PackState& pack, double rated_ah, std::int64_t now_us, Pooled& into) {
  for (const journal::FieldDay& day : pack.field_days) {
    const double depth = day.from - day.to;
    if (depth < kLeastDepth) continue;
    const double value = day.ah / depth / rated_ah;
    if (!(value > 0.2 && value < 1.5)) continue;  // not this pack's day, or a wrong figure
    into.add(years(day.at_us, now_us), value, value * field_day_sd(depth));
  }
}

}  // namespace

double field_day_sd(double depth) {
  return std::hypot(told_charge_sd(journal::Event::charged), told_charge_sd(journal::Event::used)) / depth;
}

PackHistory pack_history(const journal::PackState& pack, const catalogue::Catalogue& catalogue, std::int64_t now_us) {
  PackHistory out;
  std::vector<health::Result> capacity;
  std::vector<health::Result> resistance;
  Pooled days, ohms;
  for (const journal::Test& test : pack.tests) {
    const double at = years(test.at_us, now_us);
    const double capacity_sd = test.capacity_sd.value_or(kCapacitySd);
    const double resistance_sd = test.resistance_sd.value_or(kResistanceSd);
    if (!test.day.empty()) {
      days.add(at, test.capacity, capacity_sd);
      ohms.add(at, test.resistance, resistance_sd);
      continue;
    }
    capacity.push_back({at, test.capacity, capacity_sd});
    resistance.push_back({at, test.resistance, resistance_sd});
    ++out.tests;
  }
  if (const catalogue::PackKind* kind = catalogue.pack(pack.kind)) {
    add_field_days(pack, kind->rated_ah, now_us, days);
    out.turns = turn_answers(pack, *kind, *catalogue.cell(kind->cell));
    for (const TurnAnswer& turn : out.turns) {
      const double at = years(turn.in_us, now_us);
      if (turn.capacity) days.add(at, turn.capacity->middle, sd_of(*turn.capacity));
      if (turn.resistance) ohms.add(at, turn.resistance->middle, sd_of(*turn.resistance));
    }
  }
  out.field_days = days.count();
  if (days.count() > 0) capacity.push_back(days.result(kFieldSd));
  if (ohms.count() > 0) resistance.push_back(ohms.result(kFieldResistanceSd));
  const auto born_us = new_at_us(pack);
  out.age_known = born_us.has_value();
  double born = born_us ? years(*born_us, now_us) : 0.0;
  if (!born_us && !capacity.empty())
    born = std::min_element(capacity.begin(), capacity.end(), [](auto& a, auto& b) {
             return a.at_years < b.at_years;
           })->at_years;
  health::Prior for_capacity = health::capacity_prior(born);
  health::Prior for_resistance = health::resistance_prior(born);
  if (!born_us) {
    // Of unknown age: its first result says where it stands.
    for_capacity.new_value = 0.9;
    for_capacity.new_sd = 0.15;
    for_resistance.new_value = 1.4;
    for_resistance.new_sd = 0.6;
  } else if (pack.health && pack.acquired) {
    if (pack.bought.empty()) {
      for_capacity.new_value = *pack.health;
      for_capacity.new_sd = kSaidHealthSd;
      for_resistance.new_value = 1.0 + 4.0 * (1.0 - *pack.health);
    } else {
      capacity.push_back({years(pack.acquired->us, now_us), *pack.health, kSaidHealthSd});
    }
  }
  out.trend = health::trend(capacity, for_capacity);
  out.capacity = health::value_at(out.trend, 0.0);
  out.resistance_trend = health::trend(resistance, for_resistance);
  out.resistance = health::value_at(out.resistance_trend, 0.0);
  out.resistance.low = std::max(out.resistance.low, 0.3);
  out.retire = health::falls_to(out.trend, health::kRetireBelow, kHorizon_years);
  out.capacity_results = std::move(capacity);
  out.resistance_results = std::move(resistance);
  out.new_years = born;
  return out;
}

std::optional<WeakTwin> weak_twin(const journal::State& state, const journal::PackState& pack, const PackHistory& own,
                                  const std::function<PackHistory(const journal::PackState&)>& history_of) {
  std::optional<WeakTwin> worst;
  for (const journal::PackState& other : state.packs) {
    if (other.label == pack.label || other.kind != pack.kind || other.retired || pack.kind.empty()) continue;
    // Bought together: on the same date; without one, acquired within a day.
    const bool together =
        !pack.bought.empty() || !other.bought.empty()
            ? pack.bought == other.bought
            : pack.acquired && other.acquired && std::llabs(pack.acquired->us - other.acquired->us) < journal::kDay_us;
    if (!together) continue;
    const PackHistory theirs = history_of(other);
    // Both were tested: what only a prior says differs for no reason of their own.
    if (own.tests + own.field_days == 0 || theirs.tests + theirs.field_days == 0) continue;
    const health::Difference difference = health::compared(own.capacity, theirs.capacity);
    if (difference.weak && (!worst || difference.less > worst->less)) worst = WeakTwin{other.label, difference.less};
  }
  return worst;
}

std::string month_text(std::int64_t now_us, double years_from_now) {
  const auto us = now_us + static_cast<std::int64_t>(years_from_now * kYear_us);
  return journal::moment_text({us, 0}).substr(0, 7);
}

std::string advice(const journal::PackState& pack, const PackHistory& h, const std::optional<WeakTwin>& twin,
                   std::int64_t now_us) {
  if (pack.retired) return "Retired: keep it off the kit and recycle it.";
  if (h.capacity.high < health::kRetireBelow)
    return fmt::format("Retire it: it holds {} of its capacity, and 80 % is the usual limit.",
                       percent_words(h.capacity.middle));
  if (twin && h.capacity.middle < health::kRetireBelow)
    return fmt::format(
        "Test it and retire it if it is under 80 %, as it seems; do not pair it with {}, which holds {} more.",
        twin->stronger, percent_words(twin->less));
  if (twin)
    return fmt::format("Do not pair it with {}: it holds {} less, and the weaker one decides.", twin->stronger,
                       percent_words(twin->less));
  if (h.capacity.middle < health::kRetireBelow) return "Probably under 80 %: test it, and retire it if that is so.";
  if (h.tests + h.field_days == 0) return "Never tested: log a discharge, what is told here is by its age alone.";
  if (h.retire.middle && *h.retire.middle < 1.0)
    return fmt::format("Plan its replacement: it goes under 80 % about {}.", month_text(now_us, *h.retire.middle));
  if (h.capacity.high - h.capacity.low > 0.2) return "Test it again: the doubt is wide.";
  if (h.resistance.low > 2.0)
    return fmt::format("Keep it for warm and light work: its resistance is {:.1f} times a new one's.",
                       h.resistance.middle);
  return "Good to use.";
}

}  // namespace tillwrap::app
