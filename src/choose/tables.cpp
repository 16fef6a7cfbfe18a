#include "choose/tables.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "forecast/changes.hpp"
#include "forecast/model.hpp"
#include "forecast/simulator.hpp"
#include "forecast/split.hpp"
#include "quantity/order.hpp"

namespace tillwrap::choose {

namespace {

constexpr double kLongestStep_s = 7200.0;
constexpr double kShortestCharge_s = 600.0;
constexpr int kGoodInARow = 8;
constexpr double kInItsFavour = 1.2;
constexpr double kAboutVolts = 12.0;    // for what draws a current or is a resistor, in the order of days only
constexpr double kColdShare_k = 0.005;  // of what a pack gives, a kelvin

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// Every pack that may stand in a seat, for the drawing: only what decides whose luck it shares matters.
day::Scenario drawn_scenario(const day::Scenario& scenario, const Setup& setup, std::vector<int>& offset) {
  day::Scenario drawn = scenario;
  for (const Seat& seat : setup.seats) {
    offset.push_back(static_cast<int>(drawn.packs.size()));
    for (std::size_t m = 0; m < seat.moments.size(); ++m) {
      for (const PackClass& kind : setup.kinds) {
        day::Pack pack;
        pack.mount = kind.pack.mount;
        pack.params.cell.capacity_as = kind.pack.params.cell.capacity_as;
        pack.params.cell.rated_ah = kind.pack.params.cell.rated_ah;
        drawn.packs.push_back(std::move(pack));
      }
    }
  }
  return drawn;
}

}  // namespace

// Cycles a lithium or nickel pack lives at a depth of discharge: 100 % 300 to 500, 50 % 1200 to 1500, 25 % 2000 to 2500
// (secondary source); the middles, in millionths of a life a cycle, straight lines between.
std::int64_t millionths_of_life(double depth) {
  struct Point {
    double depth, cost;
  };
  constexpr Point points[] = {{0.0, 0.0}, {0.25, 1e6 / 2250.0}, {0.5, 1e6 / 1350.0}, {1.0, 1e6 / 400.0}};
  depth = std::clamp(depth, 0.0, 1.0);
  for (std::size_t k = 1; k < 4; ++k) {
    if (depth > points[k].depth) continue;
    const double share = (depth - points[k - 1].depth) / (points[k].depth - points[k - 1].depth);
    return std::lround(points[k - 1].cost + share * (points[k].cost - points[k - 1].cost));
  }
  return 0;
}

// A piece of the day with one seat to try packs in.
struct Tables::Bench : GroupBench {
  int holder = 0, bay = -1;  // in the piece
  int test = 0, filler = 0;  // packs of the piece
};

Tables::Tables(const day::Scenario& scenario, const Setup& setup, const Options& options, int days)
    : scenario_(scenario),
      setup_(setup),
      options_(options),
      days_(days),
      draw_(drawn_scenario(scenario, setup, seat_offset_), options.odds.spread, options.odds.seed) {
  for (int d = 0; d < days; ++d) luck_.push_back(draw_.luck_of(static_cast<std::uint32_t>(d)));
}

Tables::~Tables() = default;

const std::vector<std::uint32_t>& Tables::worst_days(int seat) { return worst_first({.seat = seat}); }

int Tables::drawn_pack(int seat, int moment, int kind) const {
  return seat_offset_[at(seat)] + moment * static_cast<int>(setup_.kinds.size()) + kind;
}

void Tables::pose(std::vector<Task> tasks, int allowed) {
  tasks_ = std::move(tasks);
  allowed_ = allowed;
}

Tables::Key Tables::key_of(const Use& use) const {
  Use bare = use;
  bare.holder = 0;
  return {tasks_[at(use.holder)], bare};
}

std::unique_ptr<Tables::Bench> Tables::bench(const Task& task, int kind, int bay) const {
  const Seat& seat = setup_.seats[at(task.seat)];
  const day::Pack& pack = setup_.kinds[at(kind)].pack;
  const int drawn = drawn_pack(task.seat, 0, kind);
  const std::vector<Guest> guests{{.holder = seat.holder, .pack = pack, .drawn = drawn, .bay = bay},
                                  {.holder = seat.holder, .pack = endless(pack), .drawn = drawn}};
  auto made = std::make_unique<Bench>();
  group_bench(seat.group, guests, true, *made);
  made->holder = made->holder_of[at(seat.holder)];
  made->bay = bay >= 0 ? made->holder_of[at(bay)] : -1;
  made->filler = made->guest[1];
  made->test = made->guest[0];
  return made;
}

// Days likely to be short come first: much drawn by what the seat feeds, little in the packs, cold.
const std::vector<std::uint32_t>& Tables::worst_first(const Task& task) {
  std::vector<std::uint32_t>& order = worst_first_[task.seat];
  if (!order.empty()) return order;
  const int group = setup_.seats[at(task.seat)].group;
  forecast::Piece piece;
  for (std::size_t d = 0; d < scenario_.devices.size(); ++d) {
    if (setup_.group_of_device[d] != group) continue;
    piece.devices.push_back(static_cast<int>(d));
    piece.day.devices.push_back(scenario_.devices[d]);
  }
  const day::Scenario fresh = piece.day;
  const odds::Spread& spread = options_.odds.spread;
  std::vector<double> badness;
  for (const odds::Luck& luck : luck_) {
    draw_.apply(piece, fresh, luck, piece.day);
    double drawn_w = 0.0;
    double usual_w = 0.0;
    for (std::size_t d = 0; d < fresh.devices.size(); ++d) {
      const day::Mode& mode = fresh.devices[d].modes.front();
      const double watts = mode.power_w + (mode.current_a + mode.siemens * kAboutVolts) * kAboutVolts;
      usual_w += watts * fresh.devices[d].scale;
      drawn_w += watts * piece.day.devices[d].scale;
    }
    badness.push_back((usual_w > 0.0 ? drawn_w / usual_w : 1.0) - spread.capacity * luck.capacity +
                      spread.start_charge * luck.start_charge - kColdShare_k * spread.air_k * luck.air);
  }
  order.resize(luck_.size());
  std::iota(order.begin(), order.end(), 0U);
  sort_stably(order, [&](std::uint32_t a, std::uint32_t b) { return badness[a] > badness[b]; });
  return order;
}

// Goes on where the row stands.
void Tables::simulate(const Task& task, const Use& use, double at_least_s, bool every_day, Row& row) const {
  const Seat& seat = setup_.seats[at(task.seat)];
  const auto charge = use.charged ? stay_of(task.seat, use) : std::nullopt;
  const std::unique_ptr<Bench> on = bench(task, use.kind, charge ? charge->bays.front() : -1);
  const auto moment_s = [&](int m) { return seat.moments[at(m)]; };
  forecast::ChangePlan plan = on->others;
  const int first_in = use.returns() ? use.before_in : use.in;
  if (first_in > 0) plan.push_back({.holder = on->holder, .pack = on->filler, .at_s = moment_s(0)});
  plan.push_back({.holder = on->holder, .pack = on->test, .at_s = moment_s(first_in)});
  if (use.returns()) {
    plan.push_back({.holder = on->holder, .pack = on->filler, .at_s = moment_s(use.before_out)});
    if (charge) plan.push_back({.holder = on->bay, .pack = on->test, .at_s = charge->from_s, .out_s = charge->until_s});
    plan.push_back({.holder = on->holder, .pack = on->test, .at_s = moment_s(use.in)});
  }
  sort_stably(plan, [](const auto& a, const auto& b) { return a.at_s < b.at_s; });
  on->piece.packs[at(on->test)] = drawn_pack(task.seat, first_in, use.kind);
  const double end_s = setup_.end_s;
  const forecast::RunOptions run{.search_until_s = end_s,
                                 .longest_step_s = kLongestStep_s,
                                 .tolerance = options_.odds.tolerance,
                                 .loss_only = true,
                                 .stop_at_loss = true,
                                 .stop_s = end_s};
  const std::vector<std::uint32_t>& order = worst_first_.at(task.seat);
  std::vector<double> marks(seat.moments.begin() + use.in + 1, seat.moments.end());
  marks.push_back(end_s);
  std::vector<int> missed(marks.size(), 0);  // days that do not get so far
  std::size_t reach = marks.size();          // marks that enough days may still get to
  int short_days = 0;
  int good_in_a_row = 0;
  const auto count = [&](double until_s) {
    for (std::size_t m = 0; m < reach; ++m) missed[m] += until_s < marks[m] ? 1 : 0;
    while (reach > 0 && missed[reach - 1] > allowed_) --reach;
    short_days += until_s < at_least_s ? 1 : 0;
    good_in_a_row = reach == 0 || until_s >= marks[reach - 1] ? good_in_a_row + 1 : 0;
  };
  row.carry.hopeless = false;
  row.carry.until_s.resize(at(days_), forecast::kNever);
  for (std::size_t k = 0; k < row.simulated; ++k) count(row.carry.until_s[order[k]]);
  while (row.simulated < order.size()) {
    if (!every_day && short_days > allowed_) {
      row.carry.hopeless = true;
      row.hopeless_s = at_least_s;
      return;
    }
    if (!every_day && good_in_a_row >= kGoodInARow) return;
    const std::uint32_t d = order[row.simulated++];
    draw_.apply(on->piece, on->fresh, luck_[d], on->piece.day);
    const forecast::DayRun day = on->simulator->run(plan, run);
    const bool lost = day.first_loss.device >= 0 && day.first_loss.at_s < end_s;
    row.carry.until_s[d] = lost ? day.first_loss.at_s : forecast::kNever;
    count(row.carry.until_s[d]);
  }
  row.exact = true;
}

// A returning pack by charge arithmetic, to its favour: it holds what it held on that day when it first went in (read
// from how long it would have stayed, or its capacity), a fifth more, less what the day as given draws meanwhile, and
// all that the bay can give.
Tables::Row Tables::reckoned(const Task& task, const Use& use, double at_least_s) {
  Use first = use;
  first.in = use.before_in;
  first.before_in = first.before_out = -1;
  first.charged = false;
  const Seat& seat = setup_.seats[at(task.seat)];
  const Row& fresh = rows_.at({task, first});
  const std::vector<double>& drawn = ampere_seconds(task, use.kind);
  std::vector<double> moments = seat.moments;
  moments.push_back(setup_.end_s);
  const auto drawn_by = [&](double at_s) {
    std::size_t k = 1;
    while (k + 1 < moments.size() && moments[k] < at_s) ++k;
    return drawn[k - 1] + (drawn[k] - drawn[k - 1]) * (at_s - moments[k - 1]) / (moments[k] - moments[k - 1]);
  };
  const cell::PackParams& pack = setup_.kinds[at(use.kind)].pack.params;
  const double used = drawn[at(use.before_out)] - drawn[at(use.before_in)];
  double put_in = 0.0;
  if (const auto charge = use.charged ? stay_of(task.seat, use) : std::nullopt) {
    put_in = scenario_.holders[at(charge->bays.front())].charge_a * (charge->until_s - charge->from_s);
  }
  Row row;
  row.reckoned = true;
  row.carry.until_s.assign(at(days_), forecast::kNever);
  int short_days = 0;
  for (std::size_t d = 0; d < row.carry.until_s.size(); ++d) {
    const double until_s = fresh.carry.until_s[d];
    const double held = kInItsFavour * (until_s < forecast::kNever ? drawn_by(until_s) - drawn[at(use.before_in)]
                                                                   : pack.cell.capacity_as * pack.parallel);
    const double holds = std::clamp(held - used + put_in, 0.0, held) + drawn[at(use.in)];
    if (holds >= drawn.back()) continue;
    std::size_t k = at(use.in) + 1;
    while (k + 1 < moments.size() && drawn[k] < holds) ++k;
    const double step = drawn[k] - drawn[k - 1];
    row.carry.until_s[d] = moments[k - 1] + (step > 0.0 ? std::clamp((holds - drawn[k - 1]) / step, 0.0, 1.0) : 1.0) *
                                                (moments[k] - moments[k - 1]);
    short_days += row.carry.until_s[d] < at_least_s ? 1 : 0;
  }
  row.carry.hopeless = short_days > allowed_;
  if (row.carry.hopeless) row.hopeless_s = at_least_s;
  return row;
}

struct Tables::Job {
  Key key;
  double at_least_s;
  Row row;
};

void Tables::run(std::vector<Job>& jobs, bool every_day) {
  for (const Job& job : jobs) worst_first(job.key.first);
  const auto body = [&](std::size_t k) {
    simulate(jobs[k].key.first, jobs[k].key.second, jobs[k].at_least_s, every_day, jobs[k].row);
  };
  odds::work(options_.each, options_.tell, "stints", jobs.size(), body);
  for (Job& job : jobs) rows_[job.key] = std::move(job.row);
}

void Tables::prepare(const std::vector<Use>& uses, const std::vector<double>& at_least_s) {
  std::vector<Job> jobs;
  std::vector<std::size_t> returning;
  for (std::size_t k = 0; k < uses.size(); ++k) {
    const Key key = key_of(uses[k]);
    const auto found = rows_.find(key);
    if (found != rows_.end() && !(found->second.carry.hopeless && at_least_s[k] < found->second.hopeless_s)) continue;
    if (uses[k].returns() && (found == rows_.end() || found->second.reckoned)) {
      returning.push_back(k);
      continue;
    }
    jobs.push_back({key, at_least_s[k], found != rows_.end() ? found->second : Row{}});
  }
  run(jobs, false);
  for (const std::size_t k : returning) {
    Use first = uses[k];
    first.in = uses[k].before_in;
    first.before_in = first.before_out = -1;
    first.charged = false;
    // How long it would have stayed must be known beyond where it came out.
    carry(first, setup_.seats[at(tasks_[at(first.holder)].seat)].moments[at(uses[k].before_out)]);
    const Key key = key_of(uses[k]);
    rows_[key] = reckoned(key.first, key.second, at_least_s[k]);
  }
}

bool Tables::refine(const std::vector<Use>& uses, const std::vector<Use>& also_reckoned) {
  std::vector<Job> reckoned;
  std::vector<Job> unfinished;
  const auto look_at = [&](const Use& use, bool only_reckoned) {
    const Key key = key_of(use);
    const auto found = rows_.find(key);
    if (found != rows_.end() && found->second.exact) return;
    const bool unseen = found == rows_.end() || found->second.reckoned;
    if (only_reckoned && !unseen) return;
    std::vector<Job>& jobs = unseen ? reckoned : unfinished;
    if (std::any_of(jobs.begin(), jobs.end(), [&](const Job& job) { return job.key == key; })) return;
    const Seat& seat = setup_.seats[at(key.first.seat)];
    const double next_s = at(use.in) + 1 < seat.moments.size() ? seat.moments[at(use.in) + 1] : setup_.end_s;
    jobs.push_back({key, next_s, unseen ? Row{} : found->second});
  };
  for (const Use& use : uses) look_at(use, false);
  if (!reckoned.empty()) {
    for (const Use& use : also_reckoned) look_at(use, true);
  }
  std::vector<Job>& jobs = reckoned.empty() ? unfinished : reckoned;
  run(jobs, reckoned.empty());
  for (const Job& job : jobs) ++versions_[job.key.first];
  return !jobs.empty();
}

const Carry& Tables::carry(const Use& use, double at_least_s) {
  const Key key = key_of(use);
  auto found = rows_.find(key);
  if (found == rows_.end() || (found->second.carry.hopeless && at_least_s < found->second.hopeless_s)) {
    prepare({use}, {at_least_s});
    found = rows_.find(key);
  }
  return found->second.carry;
}

std::optional<BayStay> Tables::stay(const Use& use) { return stay_of(tasks_[at(use.holder)].seat, use); }

// In as soon as the charger is live and hands are there, out when it is wanted or, before that, when the power goes.
std::optional<BayStay> Tables::stay_of(int seat_index, const Use& use) const {
  const Seat& seat = setup_.seats[at(seat_index)];
  const day::Pack& pack = setup_.kinds[at(use.kind)].pack;
  const double out_s = seat.moments[at(use.before_out)];
  const double back_s = seat.moments[at(use.in)];
  std::optional<BayStay> best;
  for (const int bay : setup_.bays) {
    if (!fits(scenario_, bay, pack)) continue;
    const day::Holder& holder = scenario_.holders[at(bay)];
    double from_s = forecast::kNever;
    double until_s = -forecast::kNever;
    for (const day::Period& period : scenario_.periods) {
      if (period.supply_live[at(holder.charger_supply)] == 0) continue;
      for (const day::Span& reach : day::windows(scenario_, holder.place, setup_.end_s)) {
        const double open_s = std::max({period.from_s, reach.from_s, out_s});
        if (open_s < std::min(period.until_s, reach.until_s)) from_s = std::min(from_s, open_s);
      }
      until_s = std::max(until_s, std::min(period.until_s, back_s));
    }
    if (until_s - from_s < kShortestCharge_s) continue;
    if (best && until_s - from_s == best->until_s - best->from_s && from_s == best->from_s) {
      best->bays.push_back(bay);
    } else if (!best || until_s - from_s > best->until_s - best->from_s) {
      best = BayStay{from_s, until_s, {bay}};
    }
  }
  return best;
}

// Charge drawn from the seat up to each moment and to the end, on the day as given with an endless pack of the kind.
const std::vector<double>& Tables::ampere_seconds(const Task& task, int kind) {
  std::vector<double>& made = drawn_as_[{task, kind}];
  if (!made.empty()) return made;
  const Seat& seat = setup_.seats[at(task.seat)];
  const std::unique_ptr<Bench> on = bench(task, kind, -1);
  forecast::ChangePlan plan = on->others;
  plan.push_back({.holder = on->holder, .pack = on->filler, .at_s = seat.moments.front()});
  std::vector<double> moments = seat.moments;
  moments.push_back(setup_.end_s);
  const day::Pack& filler = on->fresh.packs[at(on->filler)];
  for (const double moment_s : moments) {
    const forecast::DayRun run = on->simulator->run(plan, {.search_until_s = setup_.end_s,
                                                           .longest_step_s = kLongestStep_s,
                                                           .tolerance = options_.odds.tolerance,
                                                           .loss_only = true,
                                                           .stop_s = moment_s});
    const double used = filler.start_charge - run.charge[at(on->filler)];
    made.push_back(used * filler.params.cell.capacity_as * filler.params.parallel);
  }
  return made;
}

std::int64_t Tables::wear(const Use& use, int out) {
  const PackClass& kind = setup_.kinds[at(use.kind)];
  if (kind.cost.thrown_away) return 0;
  const std::vector<double>& drawn = ampere_seconds(tasks_[at(use.holder)], use.kind);
  const cell::PackParams& pack = kind.pack.params;
  return millionths_of_life((drawn[at(out)] - drawn[at(use.in)]) / (pack.cell.capacity_as * pack.parallel));
}

const Carry& Tables::untouched() {
  if (untouched_) return *untouched_;
  untouched_ = std::make_unique<Carry>();
  untouched_->until_s.assign(at(days_), forecast::kNever);
  day::Scenario day = scenario_;
  for (const int h : setup_.free_holders) day.holders[at(h)].slots.clear();
  for (const int h : setup_.bays) day.holders[at(h)].slots.clear();
  for (forecast::Piece& piece : forecast::split(day)) {
    const bool touched = std::any_of(setup_.seats.begin(), setup_.seats.end(), [&](const Seat& seat) {
      return std::find(piece.holders.begin(), piece.holders.end(), seat.holder) != piece.holders.end();
    });
    if (!piece.must_run || touched) continue;
    const day::Scenario fresh = piece.day;
    const forecast::Model model(piece.day);
    forecast::Simulator simulator(model);
    const forecast::ChangePlan plan = forecast::plan_changes(model, setup_.end_s);
    for (int d = 0; d < days_; ++d) {
      draw_.apply(piece, fresh, luck_[at(d)], piece.day);
      const forecast::DayRun run = simulator.run(plan, {.search_until_s = setup_.end_s,
                                                        .longest_step_s = kLongestStep_s,
                                                        .tolerance = options_.odds.tolerance,
                                                        .loss_only = true,
                                                        .stop_at_loss = true,
                                                        .stop_s = setup_.end_s});
      if (run.first_loss.device >= 0)
        untouched_->until_s[at(d)] = std::min(untouched_->until_s[at(d)], run.first_loss.at_s);
    }
  }
  return *untouched_;
}

}  // namespace tillwrap::choose
