#include "forecast/split.hpp"

#include <algorithm>
#include <numeric>

#include "quantity/order.hpp"

namespace tillwrap::forecast {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

class Sets {  // union-find
 public:
  explicit Sets(std::size_t n) : root_(n) { std::iota(root_.begin(), root_.end(), 0); }
  int of(int i) {
    while (root_[at(i)] != i) i = root_[at(i)] = root_[at(root_[at(i)])];
    return i;
  }
  void join(int a, int b) {
    a = of(a);
    b = of(b);
    root_[at(std::max(a, b))] = std::min(a, b);
  }

 private:
  std::vector<int> root_;
};

int mapped(const std::vector<int>& whole, int index) {
  return static_cast<int>(std::lower_bound(whole.begin(), whole.end(), index) - whole.begin());
}

}  // namespace

std::vector<Piece> split(const day::Scenario& day) {
  const std::size_t ports = day.ports.size();
  Sets sets(ports);
  for (const day::Lead& lead : day.leads) sets.join(lead.from, lead.to);
  for (const day::Regulator& regulator : day.regulators) sets.join(regulator.in_port, regulator.out_port);
  for (const day::Lead& lead : day.leads) {
    if (lead.switched_by >= 0) sets.join(lead.from, day.devices[at(lead.switched_by)].port);
  }
  // One warm node joins what stands in it and gives heat.
  for (std::size_t p = 0; p < day.places.size(); ++p) {
    if (day.places[p].kind != day::Place::Kind::bag) continue;
    int first = -1;
    const auto gather = [&](int place, int port) {
      if (place != static_cast<int>(p)) return;
      if (first >= 0) sets.join(first, port);
      first = port;
    };
    for (const day::Device& device : day.devices) gather(device.place, device.port);
    for (const day::Holder& holder : day.holders) gather(holder.place, holder.port);
    for (const day::Lead& lead : day.leads) gather(lead.place, lead.from);
    for (const day::Regulator& regulator : day.regulators) gather(regulator.place, regulator.in_port);
  }
  std::vector<int> home(day.packs.size(), -1);  // a port of the piece that owns the pack
  for (const day::Holder& holder : day.holders) {
    for (const day::Slot& slot : holder.slots) {
      if (home[at(slot.pack)] >= 0) sets.join(home[at(slot.pack)], holder.port);
      home[at(slot.pack)] = holder.port;
    }
  }
  std::vector<int> roots;
  for (std::size_t p = 0; p < ports; ++p) {
    if (sets.of(static_cast<int>(p)) == static_cast<int>(p)) roots.push_back(static_cast<int>(p));
  }
  std::vector<Piece> pieces;
  for (const int root : roots) {
    Piece piece;
    const auto here = [&](int port) { return port >= 0 && sets.of(port) == root; };
    for (std::size_t i = 0; i < ports; ++i) {
      if (here(static_cast<int>(i))) piece.ports.push_back(static_cast<int>(i));
    }
    for (std::size_t i = 0; i < day.leads.size(); ++i) {
      if (here(day.leads[i].from)) piece.leads.push_back(static_cast<int>(i));
    }
    for (std::size_t i = 0; i < day.devices.size(); ++i) {
      if (here(day.devices[i].port)) piece.devices.push_back(static_cast<int>(i));
    }
    for (std::size_t i = 0; i < day.holders.size(); ++i) {
      if (here(day.holders[i].port)) piece.holders.push_back(static_cast<int>(i));
    }
    for (std::size_t i = 0; i < day.regulators.size(); ++i) {
      if (here(day.regulators[i].in_port)) piece.regulators.push_back(static_cast<int>(i));
    }
    for (std::size_t i = 0; i < day.packs.size(); ++i) {
      bool takes = here(home[i]);
      for (const int h : piece.holders) {
        if (home[i] >= 0 || takes) break;
        const std::vector<std::string>& accepts = day.holders[at(h)].accepts;
        takes = std::find(accepts.begin(), accepts.end(), day.packs[i].mount) != accepts.end();
      }
      if (takes) piece.packs.push_back(static_cast<int>(i));
    }
    if (piece.devices.empty() && piece.holders.empty()) continue;
    day::Scenario& own = piece.day;
    own.title = day.title;
    own.call_s = day.call_s;
    own.wrap_s = day.wrap_s;
    own.off_s = day.off_s;
    own.overrun_s = day.overrun_s;
    own.reserve_s = day.reserve_s;
    own.places = day.places;
    own.no_hands = day.no_hands;
    for (const int i : piece.packs) own.packs.push_back(day.packs[at(i)]);
    for (const int i : piece.ports) own.ports.push_back(day.ports[at(i)]);
    for (const int i : piece.leads) {
      day::Lead lead = day.leads[at(i)];
      lead.from = mapped(piece.ports, lead.from);
      lead.to = mapped(piece.ports, lead.to);
      if (lead.switched_by >= 0) lead.switched_by = mapped(piece.devices, lead.switched_by);
      own.leads.push_back(lead);
    }
    for (const int i : piece.devices) {
      day::Device device = day.devices[at(i)];
      device.port = mapped(piece.ports, device.port);
      for (day::DeviceInput& input : device.inputs) input.lead = mapped(piece.leads, input.lead);
      piece.must_run = piece.must_run || device.need != day::Need::optional;
      own.devices.push_back(device);
    }
    for (const int i : piece.holders) {
      day::Holder holder = day.holders[at(i)];
      holder.port = mapped(piece.ports, holder.port);
      for (day::Slot& slot : holder.slots) slot.pack = mapped(piece.packs, slot.pack);
      own.holders.push_back(holder);
    }
    for (const int i : piece.regulators) {
      day::Regulator regulator = day.regulators[at(i)];
      regulator.in_port = mapped(piece.ports, regulator.in_port);
      regulator.out_port = mapped(piece.ports, regulator.out_port);
      own.regulators.push_back(regulator);
    }
    for (const day::Supply& supply : day.supplies) {
      day::Supply copy = supply;
      copy.port = here(supply.port) ? mapped(piece.ports, supply.port) : -1;
      own.supplies.push_back(copy);
    }
    for (const day::Period& period : day.periods) {
      day::Period copy = period;
      copy.mode.clear();
      for (const int i : piece.devices) copy.mode.push_back(period.mode[at(i)]);
      own.periods.push_back(copy);
    }
    pieces.push_back(std::move(piece));
  }
  return pieces;
}

namespace {

CauseNote translated(CauseNote why, const Piece& piece) {
  const auto whole = [](int index, const std::vector<int>& map) {
    return index >= 0 && at(index) < map.size() ? map[at(index)] : -1;
  };
  why.holder = whole(why.holder, piece.holders);
  why.pack = whole(why.pack, piece.packs);
  why.lead = whole(why.lead, piece.leads);
  why.regulator = whole(why.regulator, piece.regulators);
  return why;
}

Event translated(Event event, const Piece& piece) {
  if (event.pack >= 0) event.pack = piece.packs[at(event.pack)];
  event.why = translated(event.why, piece);
  switch (event.kind) {
    case EventKind::device_down:
    case EventKind::device_up:
    case EventKind::input_switched:
    case EventKind::over_volts:
      event.index = piece.devices[at(event.index)];
      break;
    case EventKind::change_out:
    case EventKind::change_in:
    case EventKind::pack_off:
    case EventKind::cell_reversed:
    case EventKind::pack_charging:
    case EventKind::pack_full:
      event.index = piece.holders[at(event.index)];
      break;
    case EventKind::fuse_open:
    case EventKind::protector_open:
    case EventKind::protector_closed:
      event.index = piece.leads[at(event.index)];
      break;
    case EventKind::regulator_down:
    case EventKind::regulator_up:
      event.index = at(event.index) < piece.regulators.size() ? piece.regulators[at(event.index)] : -1;
      break;
    case EventKind::period:
    case EventKind::supply_gone:
    case EventKind::supply_back:
      break;
  }
  return event;
}

bool of_the_whole_day(EventKind kind) {
  return kind == EventKind::period || kind == EventKind::supply_gone || kind == EventKind::supply_back;
}

void merge_traces(const day::Scenario& day, const std::vector<Piece>& pieces, const std::vector<DayRun>& runs,
                  Trace& out) {
  for (const DayRun& run : runs) out.at_s.insert(out.at_s.end(), run.trace.at_s.begin(), run.trace.at_s.end());
  std::sort(out.at_s.begin(), out.at_s.end());
  out.at_s.erase(std::unique(out.at_s.begin(), out.at_s.end(), [](double a, double b) { return b - a < 1.0; }),
                 out.at_s.end());
  const std::size_t rows = out.at_s.size();
  out.device_v.assign(day.devices.size(), std::vector<double>(rows, 0.0));
  out.holder_v.assign(day.holders.size(), std::vector<double>(rows, 0.0));
  out.holder_a = out.holder_out_a = out.holder_charge = out.holder_k = out.holder_v;
  out.holder_pack.assign(day.holders.size(), std::vector<int>(rows, -1));
  out.place_k.assign(day.places.size(), std::vector<double>(rows, 0.0));
  out.lead_a.assign(day.leads.size(), std::vector<double>(rows, 0.0));
  // Where a row of the whole lies between two rows of a piece: the same for all that is interpolated there.
  struct Between {
    std::size_t k, next;
    double share;
  };
  std::vector<Between> where, held;
  for (std::size_t p = 0; p < pieces.size(); ++p) {
    const Trace& own = runs[p].trace;
    if (own.at_s.empty()) continue;
    where.clear();
    std::size_t k = 0;
    for (const double t : out.at_s) {
      if (t > own.at_s.back() + 1.0) break;  // not followed further: holders read as empty
      while (k + 1 < own.at_s.size() && own.at_s[k + 1] <= t) ++k;
      const std::size_t next = std::min(k + 1, own.at_s.size() - 1);
      const double span_s = own.at_s[next] - own.at_s[k];
      where.push_back({k, next, span_s > 0.0 ? std::clamp((t - own.at_s[k]) / span_s, 0.0, 1.0) : 0.0});
    }
    const auto value = [](const std::vector<double>& values, const Between& row) {
      return values[row.k] + row.share * (values[row.next] - values[row.k]);
    };
    const auto put = [&](const std::vector<double>& values, const std::vector<Between>& rows, std::vector<double>& to) {
      for (std::size_t row = 0; row < rows.size(); ++row) to[row] = value(values, rows[row]);
    };
    for (std::size_t d = 0; d < pieces[p].devices.size(); ++d)
      put(own.device_v[d], where, out.device_v[at(pieces[p].devices[d])]);
    for (std::size_t l = 0; l < pieces[p].leads.size(); ++l)
      put(own.lead_a[l], where, out.lead_a[at(pieces[p].leads[l])]);
    for (std::size_t h = 0; h < pieces[p].holders.size(); ++h) {
      const std::size_t whole = at(pieces[p].holders[h]);
      const std::vector<int>& packs = own.holder_pack[h];
      held.assign(where.begin(), where.end());
      for (std::size_t row = 0; row < held.size(); ++row) {
        Between& one = held[row];
        if (packs[one.k] != packs[one.next]) one.next = one.k;  // a change: nothing lies between two packs
        out.holder_pack[whole][row] = packs[one.k] >= 0 ? pieces[p].packs[at(packs[one.k])] : -1;
      }
      put(own.holder_v[h], held, out.holder_v[whole]);
      put(own.holder_a[h], held, out.holder_a[whole]);
      put(own.holder_out_a[h], held, out.holder_out_a[whole]);
      put(own.holder_charge[h], held, out.holder_charge[whole]);
      put(own.holder_k[h], held, out.holder_k[whole]);
    }
    // A bag is warmed by the piece that stands in it; the others only see its air.
    for (std::size_t place = 0; place < day.places.size(); ++place) {
      const auto here = [&](const auto& thing) { return at(thing.place) == place; };
      const day::Scenario& part = pieces[p].day;
      const bool warms = day.places[place].kind == day::Place::Kind::bag &&
                         (std::any_of(part.devices.begin(), part.devices.end(), here) ||
                          std::any_of(part.holders.begin(), part.holders.end(), here));
      std::vector<double>& to = out.place_k[place];
      for (std::size_t row = 0; row < where.size(); ++row)
        if (warms || to[row] == 0.0) to[row] = value(own.place_k[place], where[row]);
    }
  }
}

}  // namespace

DayRun merged(const day::Scenario& day, const std::vector<Piece>& pieces, const std::vector<DayRun>& runs) {
  DayRun out;
  out.devices.resize(day.devices.size());
  out.lead_loss_j.assign(day.leads.size(), 0.0);
  out.charge.assign(day.packs.size(), 0.0);
  for (std::size_t p = 0; p < day.packs.size(); ++p) out.charge[p] = day.packs[p].start_charge;
  out.searched_until_s = kNever;
  bool traced = false;
  for (std::size_t p = 0; p < pieces.size(); ++p) {
    const Piece& piece = pieces[p];
    const DayRun& run = runs[p];
    if (run.first_loss.at_s < out.first_loss.at_s) {
      out.first_loss = run.first_loss;
      out.first_loss.device = piece.devices[at(run.first_loss.device)];
      out.first_loss.why = translated(run.first_loss.why, piece);
    }
    if (piece.must_run) out.searched_until_s = std::min(out.searched_until_s, run.searched_until_s);
    for (Stint stint : run.stints) {
      stint.holder = piece.holders[at(stint.holder)];
      stint.pack = piece.packs[at(stint.pack)];
      out.stints.push_back(stint);
    }
    for (Change change : run.changes) {
      change.holder = piece.holders[at(change.holder)];
      change.out_pack = piece.packs[at(change.out_pack)];
      change.in_pack = piece.packs[at(change.in_pack)];
      out.changes.push_back(change);
    }
    for (std::size_t d = 0; d < piece.devices.size(); ++d) out.devices[at(piece.devices[d])] = run.devices[d];
    for (std::size_t k = 0; k < piece.leads.size(); ++k) out.lead_loss_j[at(piece.leads[k])] = run.lead_loss_j[k];
    for (std::size_t k = 0; k < piece.packs.size(); ++k) out.charge[at(piece.packs[k])] = run.charge[k];
    for (const Event& event : run.events) {
      if (p > 0 && of_the_whole_day(event.kind)) continue;
      out.events.push_back(translated(event, piece));
    }
    out.account.drawn_j += run.account.drawn_j;
    out.account.devices_j += run.account.devices_j;
    out.account.cables_j += run.account.cables_j;
    out.account.contacts_j += run.account.contacts_j;
    out.account.converters_j += run.account.converters_j;
    out.account.cells_j += run.account.cells_j;
    out.steps += run.steps;
    out.solves += run.solves;
    out.unsolved += run.unsolved;
    traced = traced || !run.trace.at_s.empty();
  }
  if (out.searched_until_s == kNever) out.searched_until_s = day.off_s;
  const auto by_time = [](const auto& a, const auto& b) { return a.at_s < b.at_s; };
  sort_stably(out.events, by_time);
  sort_stably(out.changes, by_time);
  sort_stably(out.stints, [](const Stint& a, const Stint& b) { return a.in_s < b.in_s; });
  if (traced) merge_traces(day, pieces, runs, out.trace);
  return out;
}

}  // namespace tillwrap::forecast
