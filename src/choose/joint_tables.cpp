#include "choose/joint_tables.hpp"

#include <algorithm>

#include "quantity/order.hpp"

namespace tillwrap::choose {

namespace {

constexpr double kLongestStep_s = 7200.0;
constexpr std::size_t kFewestDays = 24;  // worst first, of what changes are to follow
constexpr std::size_t kEnoughDays = 64;  // worst first: where enough of them last, the rest are left until it matters
constexpr std::size_t kChunk = 64;
// Of the charge a pack holds: so much more before what it loses says anything about another.
constexpr double kClearlyMore = 1.02;
constexpr double kArrives_s = 600.0;  // no change takes longer; moments lie twice as far apart

std::size_t at(int i) { return static_cast<std::size_t>(i); }

forecast::RunOptions whole_run(const Options& options, double end_s) {
  return {.search_until_s = end_s,
          .longest_step_s = kLongestStep_s,
          .tolerance = options.odds.tolerance,
          .loss_only = true,
          .stop_at_loss = true,
          .stop_s = end_s};
}

// In nothing that a day brings: the same kind of pack, aged less or charged more.
bool no_worse(const day::Pack& a, const day::Pack& b) {
  const cell::CellParams& mine = a.params.cell;
  const cell::CellParams& other = b.params.cell;
  const bool alike = a.mount == b.mount && a.params.kind == b.params.kind && mine.name == other.name &&
                     mine.rated_ah == other.rated_ah && a.spare_place == b.spare_place && !a.regulator && !b.regulator;
  return alike && mine.capacity_as >= other.capacity_as && mine.series_ohm <= other.series_ohm &&
         mine.electrolyte_ohm <= other.electrolyte_ohm && mine.exchange_a >= other.exchange_a &&
         mine.exchange_s <= other.exchange_s && mine.rc_ohm <= other.rc_ohm &&
         a.params.electronics_ohm <= b.params.electronics_ohm && a.params.weak_fraction >= b.params.weak_fraction &&
         a.start_charge >= b.start_charge;
}

}  // namespace

JointTables::JointTables(const Setup& setup, const Options& options, Tables& tables, std::vector<int> seats,
                         int allowed)
    : setup_(setup),
      options_(options),
      tables_(tables),
      seats_(std::move(seats)),
      allowed_(allowed),
      company_(tables.scenario(), setup, options, static_cast<int>(tables.luck().size())) {
  std::vector<Task> tasks;
  for (const int seat : seats_) tasks.push_back({.seat = seat});
  company_.pose(std::move(tasks), allowed);
}

std::optional<BayStay> JointTables::stay(const Use& use) { return tables_.stay_of(seat_of(use), use); }

// By use, its pack among `all`, which they join; -1: the dead one's, with nothing in its place.
std::vector<int> JointTables::guests(const Variant& variant, std::vector<Guest>& all) const {
  const JointPlan& plan = variant.plan;
  std::vector<int> guest_of(plan.size(), -1);
  for (std::size_t k = 0; k < plan.size(); ++k) {
    const Use& use = plan[k];
    if (use.returns()) {
      for (std::size_t e = 0; e < k; ++e) {
        const bool same = plan[e].holder == use.holder && plan[e].in == use.before_in && !plan[e].returns();
        if (same) guest_of[k] = guest_of[e];
      }
      if (guest_of[k] >= 0 && use.charged) all[at(guest_of[k])].bay = tables_.stay_of(seat_of(use), use)->bays.front();
      continue;
    }
    int kind = use.kind;
    if (static_cast<int>(k) == variant.dead) {
      if (variant.spare < 0) continue;
      kind = variant.spare;
    }
    // Whose luck it has tells seat, moment and kind.
    const int drawn = tables_.drawn_pack(seat_of(use), use.in, kind);
    const auto there = std::find_if(all.begin(), all.end(), [&](const Guest& guest) { return guest.drawn == drawn; });
    guest_of[k] = static_cast<int>(there - all.begin());
    if (there == all.end())
      all.push_back({.holder = seat(use).holder, .pack = setup_.kinds[at(kind)].pack, .drawn = drawn});
  }
  return guest_of;
}

forecast::ChangePlan JointTables::changes(const Variant& variant, const std::vector<int>& guest_of,
                                          const GroupBench& bench) const {
  forecast::ChangePlan plan = bench.others;
  for (std::size_t k = 0; k < variant.plan.size(); ++k) {
    if (guest_of[k] < 0) continue;
    const Use& use = variant.plan[k];
    const int pack = bench.guest[at(guest_of[k])];
    if (use.charged) {
      const BayStay charge = *tables_.stay_of(seat_of(use), use);
      plan.push_back({.holder = bench.holder_of[at(charge.bays.front())],
                      .pack = pack,
                      .at_s = charge.from_s,
                      .out_s = charge.until_s});
    }
    plan.push_back(
        {.holder = bench.holder_of[at(seat(use).holder)], .pack = pack, .at_s = seat(use).moments[at(use.in)]});
  }
  sort_stably(plan, [](const auto& a, const auto& b) { return a.at_s < b.at_s; });
  return plan;
}

// When the day that stands at `k` in the group's order is lost with better packs; kNever: not known to be.
double JointTables::lost_with_better(const Job& job, std::size_t k, std::uint32_t day) {
  for (const Better& better : job.better) {
    if (better.until_s->size() <= k || (*better.until_s)[k] == forecast::kNever) continue;
    const bool all_hold_more = std::all_of(better.holds_as.begin(), better.holds_as.end(), [&](const auto& holds) {
      return (*holds.first)[day] >= kClearlyMore * (*holds.second)[day];
    });
    if (all_hold_more) return (*better.until_s)[k];
  }
  return forecast::kNever;
}

// Goes on where the rows stand. What differs in its last change only is simulated together, the latest first: each
// then goes on from where the one before stood when they part.
void JointTables::simulate(const std::vector<Job*>& jobs, Extent extent) const {
  const std::vector<std::uint32_t>& order = tables_.worst_days(seats_.front());
  struct Course {
    const Job* job;
    Row* row;
    forecast::ChangePlan plan;
    std::int64_t lost_days;
  };
  std::vector<Guest> packs;
  std::vector<std::vector<int>> guest_of;
  for (const Job* job : jobs) guest_of.push_back(guests(*job->variant, packs));
  GroupBench bench;
  tables_.group_bench(setup_.seats[at(seats_.front())].group, packs, false, bench);
  // A dead bridge costs a restart between takes, not the day.
  if (jobs.front()->variant->dead >= 0) {
    for (day::Device& device : bench.piece.day.devices)
      device.need = device.need == day::Need::unbroken ? day::Need::rolling : device.need;
  }
  std::vector<Course> courses;
  std::size_t k = order.size();
  for (std::size_t j = 0; j < jobs.size(); ++j) {
    const std::vector<double>& until_s = jobs[j]->row.until_s;
    const auto lost = std::count_if(until_s.begin(), until_s.end(), [](double one) { return one < forecast::kNever; });
    courses.push_back({jobs[j], &jobs[j]->row, changes(*jobs[j]->variant, guest_of[j], bench), lost});
    k = std::min(k, until_s.size());
  }
  sort_stably(courses, [](const Course& a, const Course& b) { return a.plan.back().at_s > b.plan.back().at_s; });
  // Whether enough days may last is open as long as too few of the worst were lost.
  const auto wants_more = [&](const Course& one) {
    const std::size_t seen = one.row->until_s.size();
    return seen < extent.fewest || (one.lost_days <= allowed_ && seen < extent.most);
  };
  const forecast::RunOptions options = whole_run(options_, setup_.end_s);
  forecast::Marks marks;
  forecast::DayRun day;
  for (bool any = true; any && k < order.size(); ++k) {
    any = false;
    bool drawn = false;
    for (Course& one : courses) {
      if (one.row->until_s.size() != k) {
        any = any || one.row->until_s.size() > k;
        continue;
      }
      if (!wants_more(one)) continue;
      if (const double until_s = lost_with_better(*one.job, k, order[k]); until_s < forecast::kNever) {
        any = true;
        one.row->until_s.push_back(until_s);
        one.row->inferred = true;
        ++one.lost_days;
        continue;
      }
      if (!drawn) tables_.draw().apply(bench.piece, bench.fresh, tables_.luck()[order[k]], bench.piece.day);
      any = drawn = true;
      ++jobs.front()->days_run;
      if (courses.size() == 1) {
        bench.simulator->run(one.plan, options, day);
      } else {
        bench.simulator->run(one.plan, options, day, marks);
      }
      const bool is_lost = day.first_loss.device >= 0 && day.first_loss.at_s < setup_.end_s;
      one.row->until_s.push_back(is_lost ? day.first_loss.at_s : forecast::kNever);
      one.lost_days += is_lost ? 1 : 0;
    }
    marks.forget();
  }
}

void JointTables::run(const std::vector<Variant>& variants, Extent extent) {
  std::vector<Job> jobs;
  for (const Variant& variant : variants) {
    const auto found = rows_.find(variant);
    if (found == rows_.end())
      jobs.push_back({&variant, {}, {}});
    else if (found->second.until_s.size() < extent.fewest)
      jobs.push_back({&variant, found->second, {}});
  }
  run(jobs, extent);
}

// All of its own days, none of a better plan's; in chunks, for more hands than one.
void JointTables::run_every_day(const Variant& variant) {
  const std::size_t days = tables_.worst_days(seats_.front()).size();
  Row row = rows_[variant];
  if (row.inferred) row = {};
  const std::size_t known = row.until_s.size();
  if (known == days) return;
  const std::size_t chunks = (days - known + kChunk - 1) / kChunk;
  std::vector<Job> jobs(chunks, Job{&variant, row, {}});
  const auto body = [&](std::size_t k) {
    jobs[k].row.until_s.resize(known + k * kChunk, forecast::kNever);
    const std::size_t last = std::min(days, known + (k + 1) * kChunk);
    simulate({&jobs[k]}, {.fewest = last, .most = last});
  };
  odds::work(options_.each, options_.tell, "batches of days of one plan", chunks, body);
  for (std::size_t k = 0; k < chunks; ++k) {
    days_run_ += jobs[k].days_run;
    const std::vector<double>& own = jobs[k].row.until_s;
    row.until_s.insert(row.until_s.end(), own.begin() + static_cast<std::ptrdiff_t>(known + k * kChunk), own.end());
  }
  rows_[variant] = std::move(row);
}

void JointTables::run(std::vector<Job>& jobs, Extent extent) {
  tables_.worst_days(seats_.front());
  std::map<JointPlan, std::vector<Job*>> together;  // by what comes before the last change
  std::vector<std::vector<Job*>> batches;
  for (Job& job : jobs) {
    JointPlan before = job.variant->plan;
    const bool charged = before.back().charged;  // another bay, another bench
    before.pop_back();
    if (job.variant->dead >= 0 || charged || before.empty()) {
      batches.push_back({&job});
    } else {
      together[before].push_back(&job);
    }
  }
  for (auto& [before, batch] : together) batches.push_back(std::move(batch));
  const auto body = [&](std::size_t k) { simulate(batches[k], extent); };
  odds::work(options_.each, options_.tell, "groups of plans", batches.size(), body);
  for (Job& job : jobs) {
    days_run_ += job.days_run;
    rows_[*job.variant] = std::move(job.row);
  }
}

// The same holders and moments, each pack no worse.
bool JointTables::is_better(const JointPlan& plan, const JointPlan& than) const {
  for (std::size_t k = 0; k < plan.size(); ++k) {
    if (plan[k].kind != than[k].kind && better_kind_[at(plan[k].kind)][at(than[k].kind)] == 0) return false;
  }
  return plan != than;
}

// Whether they last, those with the best packs first: what is lost with better packs on a day is lost with worse ones.
void JointTables::run_best_first(const std::vector<JointPlan>& plans) {
  if (better_kind_.empty()) {
    for (const PackClass& a : setup_.kinds) {
      better_kind_.emplace_back();
      for (const PackClass& b : setup_.kinds) better_kind_.back().push_back(no_worse(a.pack, b.pack) ? 1 : 0);
    }
  }
  std::map<JointPlan, std::vector<Variant>> alike;  // by holders and moments
  for (const JointPlan& plan : plans) {
    if (rows_.contains({.plan = plan})) continue;
    JointPlan bare = plan;
    for (Use& use : bare) use.kind = 0;
    alike[bare].push_back({.plan = plan});
  }
  struct Waiting {
    const Variant* variant;
    std::vector<const Variant*> better;
    std::size_t round;
  };
  std::vector<Waiting> waiting;
  std::size_t rounds = 0;
  for (auto& [bare, variants] : alike) {
    const auto first = static_cast<std::ptrdiff_t>(waiting.size());
    for (const Variant& variant : variants) {
      waiting.push_back({&variant, {}, 0});
      for (const Variant& other : variants) {
        if (is_better(other.plan, variant.plan)) waiting.back().better.push_back(&other);
      }
    }
    // Whatever is better than another has fewer that are better still.
    std::stable_sort(waiting.begin() + first, waiting.end(),
                     [](const Waiting& a, const Waiting& b) { return a.better.size() < b.better.size(); });
    std::map<const Variant*, std::size_t> round_of;
    for (auto one = waiting.begin() + first; one != waiting.end(); ++one) {
      for (const Variant* other : one->better) one->round = std::max(one->round, round_of.at(other) + 1);
      round_of[one->variant] = one->round;
      rounds = std::max(rounds, one->round + 1);
    }
  }
  for (std::size_t round = 0; round < rounds; ++round) {
    std::vector<Job> jobs;
    for (const Waiting& one : waiting) {
      if (one.round != round) continue;
      jobs.push_back({one.variant, {}, {}});
      for (const Variant* other : one.better) {
        Better better{.until_s = &rows_.at(*other).until_s, .holds_as = {}};
        for (std::size_t k = 0; k < other->plan.size(); ++k) {
          const Use& mine = one.variant->plan[k];
          if (other->plan[k].kind == mine.kind || mine.returns()) continue;
          better.holds_as.emplace_back(&drawn(other->plan[k]).capacity_as, &drawn(mine).capacity_as);
        }
        jobs.back().better.push_back(std::move(better));
      }
    }
    run(jobs, {.fewest = 1, .most = kEnoughDays});
  }
}

void JointTables::prepare(const std::vector<JointPlan>& plans, bool to_grow) {
  if (!to_grow) {
    run_best_first(plans);
    return;
  }
  std::vector<Variant> variants;
  for (const JointPlan& plan : plans) variants.push_back({.plan = plan});
  run(variants, {.fewest = kFewestDays, .most = 2 * kFewestDays});
}

double JointTables::reach_s(const JointPlan& plan) {
  run({{.plan = plan}}, {.fewest = 1, .most = kEnoughDays});
  std::vector<double> until = rows_.at({.plan = plan}).until_s;
  if (until.size() <= at(allowed_)) return forecast::kNever;
  std::nth_element(until.begin(), until.begin() + allowed_, until.end());
  return until[at(allowed_)];
}

const std::vector<double>& JointTables::until_s(const JointPlan& plan) {
  run_every_day({.plan = plan});
  return rows_.at({.plan = plan}).until_s;
}

DayBits JointTables::lost_in(const Variant& variant) const {
  const std::vector<std::uint32_t>& order = tables_.worst_days(seats_.front());
  DayBits lost(order.size());
  const std::vector<double>& until_s = rows_.at(variant).until_s;
  for (std::size_t k = 0; k < until_s.size(); ++k) {
    if (until_s[k] < forecast::kNever) lost.add(order[k]);
  }
  return lost;
}

DayBits JointTables::lost(const JointPlan& plan) {
  run_every_day({.plan = plan});
  return lost_in({.plan = plan});
}

DayBits JointTables::lost_without(const JointPlan& plan, std::size_t dead, int spare) {
  const Variant variant{.plan = plan, .dead = static_cast<int>(dead), .spare = spare};
  run({variant}, {.fewest = 1, .most = kEnoughDays});
  DayBits lost = lost_in(variant);
  if (lost.count() > allowed_) return lost;
  run_every_day(variant);
  return lost_in(variant);
}

// What each stint takes out of its pack on the day as given.
std::int64_t JointTables::wear(const JointPlan& plan) {
  const Variant variant{.plan = plan};
  std::vector<Guest> packs;
  const std::vector<int> guest_of = guests(variant, packs);
  GroupBench bench;
  tables_.group_bench(setup_.seats[at(seats_.front())].group, packs, false, bench);
  forecast::RunOptions options = whole_run(options_, setup_.end_s);
  options.stop_at_loss = false;
  const forecast::DayRun run = bench.simulator->run(changes(variant, guest_of, bench), options);
  std::int64_t sum = 0;
  for (std::size_t k = 0; k < plan.size(); ++k) {
    const PackClass& kind = setup_.kinds[at(plan[k].kind)];
    if (kind.cost.thrown_away) continue;
    const int pack = bench.guest[at(guest_of[k])];
    const double in_s = seat(plan[k]).moments[at(plan[k].in)];
    for (const forecast::Stint& stint : run.stints) {
      if (stint.pack != pack || stint.holder != bench.holder_of[at(seat(plan[k]).holder)]) continue;
      if (stint.in_s < in_s - 1.0 || stint.in_s > in_s + kArrives_s) continue;
      const double left = stint.out_s < forecast::kNever ? stint.end_charge : run.charge[at(pack)];
      sum += millionths_of_life(stint.start_charge - left);
    }
  }
  return sum;
}

}  // namespace tillwrap::choose
