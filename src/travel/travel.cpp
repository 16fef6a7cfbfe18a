#include "travel/travel.hpp"

#include <algorithm>
#include <cmath>
#include <map>

namespace tillwrap::travel {

namespace {

using catalogue::TravelClass;
using catalogue::TravelRule;
using Says = TravelRule::Says;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

bool holds_on(const TravelRule& rule, const std::string& date) {
  return rule.valid_from <= date && date <= rule.valid_until;
}

// 1e-9: a label of 100 Wh worked out as volts times ampere-hours may miss 100 in the last bit.
bool within(double value, double over, double to) {
  return (over < 0.0 || value > over + 1e-9) && (to < 0.0 || value <= to + 1e-9);
}

bool covers(const TravelRule& rule, const Battery& battery) {
  if (rule.carried == TravelRule::Carried::spare && battery.in_device) return false;
  if (rule.carried == TravelRule::Carried::in_device && !battery.in_device) return false;
  return within(battery.rated_wh, rule.over_wh, rule.to_wh) &&
         within(battery.lithium_g, rule.over_lithium_g, rule.to_lithium_g) && within(battery.volts, -1.0, rule.to_v);
}

const TravelRule* bank_rule(const std::vector<TravelRule>& rules, const std::string& date, const Battery& battery) {
  for (const TravelRule& rule : rules) {
    if (rule.says == Says::what_may && rule.covers_banks && holds_on(rule, date) && covers(rule, battery)) return &rule;
  }
  return nullptr;
}

// Where a pack is used first: a device it is built into or that it stays in on the way.
std::string device_of(const day::Scenario& day, const kit::Inventory& inventory, int pack) {
  for (std::size_t h = 0; h < day.holders.size(); ++h) {
    if (inventory.holders[h].kind == nullptr) continue;
    for (const day::Slot& slot : day.holders[h].slots) {
      if (slot.pack != pack) continue;
      const std::string& in = inventory.holders[h].sits_in;
      return in.empty() ? day.holders[h].name : in.substr(0, in.find('.'));
    }
  }
  return {};
}

bool built_in(const day::Scenario& day, int pack) {
  return std::any_of(day.holders.begin(), day.holders.end(), [&](const day::Holder& holder) {
    return holder.built_in &&
           std::any_of(holder.slots.begin(), holder.slots.end(), [&](const day::Slot& s) { return s.pack == pack; });
  });
}

// The weights of one piece of an item toward the limits of that day.
std::vector<int> weights_of(const Item& item, const std::vector<const TravelRule*>& limits, bool strict) {
  std::vector<int> weights(limits.size(), 0);
  const auto add = [&](const std::vector<std::string>& ids) {
    for (std::size_t k = 0; k < limits.size(); ++k) {
      if (std::find(ids.begin(), ids.end(), limits[k]->id) != ids.end()) weights[k] = 1;
    }
  };
  add(item.rule->counts);
  if (strict) add(item.rule->may_count);
  if (item.bank != nullptr && (strict || !item.bank_unclear)) {
    add(item.bank->counts);
    if (strict) add(item.bank->may_count);
  }
  return weights;
}

// Pieces handed out one by one. Packs that sit in one device travel, and count, as that device.
struct Units {
  std::vector<Load> loads;
  std::vector<std::vector<Part>> parts;  // what one thing of each load is made of
};

Units units_of(const std::vector<Item>& items, const std::vector<const TravelRule*>& limits, bool strict) {
  Units units;
  std::map<std::string, std::size_t> devices;
  for (std::size_t i = 0; i < items.size(); ++i) {
    const Item& item = items[i];
    if (!item.in_baggage()) continue;
    const std::vector<int> weights = weights_of(item, limits, strict);
    if (!item.in_device) {
      units.loads.push_back({static_cast<int>(item.packs.size()) * item.pieces, weights});
      units.parts.push_back({{static_cast<int>(i), 1}});
      continue;
    }
    for (std::size_t p = 0; p < item.packs.size(); ++p) {
      const auto [found, fresh] = devices.emplace(item.in[p], units.loads.size());
      if (fresh) {
        units.loads.push_back({1, weights});
        units.parts.emplace_back();
      } else {
        std::vector<int>& sum = units.loads[found->second].weights;
        for (std::size_t k = 0; k < sum.size(); ++k) sum[k] = std::max(sum[k], weights[k]);
      }
      units.parts[found->second].push_back({static_cast<int>(i), item.pieces});
    }
  }
  return units;
}

Reading read(const std::vector<Item>& items, const std::vector<const TravelRule*>& limits, bool strict,
             int travellers) {
  Reading reading{.strict = strict};
  const Units units = units_of(items, limits, strict);
  std::vector<int> most;
  for (std::size_t k = 0; k < limits.size(); ++k) {
    most.push_back(limits[k]->most_a_person);
    Tally tally{.limit = limits[k]};
    for (const Load& load : units.loads) tally.count += load.count * load.weights[k];
    reading.tallies.push_back(tally);
  }
  // Things alike to every limit are interchangeable: they are shared out as one heap and dealt afterwards.
  std::vector<Load> heaps;
  std::vector<std::vector<std::size_t>> of_heap;
  for (std::size_t u = 0; u < units.loads.size(); ++u) {
    std::size_t h = 0;
    while (h < heaps.size() && heaps[h].weights != units.loads[u].weights) ++h;
    if (h == heaps.size()) {
      heaps.push_back({0, units.loads[u].weights});
      of_heap.emplace_back();
    }
    heaps[h].count += units.loads[u].count;
    of_heap[h].push_back(u);
  }
  // A limit of none: whatever counts toward it stays, so there is no number of people that helps.
  const std::optional<int> needed = people_needed(heaps, most);
  reading.people_needed = needed.value_or(0);
  reading.fits = needed.has_value() && *needed <= travellers;
  if (!needed) return reading;
  const int people = std::max(*needed, travellers);
  const std::optional<Shares> shares = share(heaps, most, people);
  if (!shares) return reading;
  reading.shares.assign(at(people), {});
  for (std::size_t h = 0; h < heaps.size(); ++h) {
    std::size_t next = 0;
    int left_of_next = units.loads[of_heap[h][0]].count;
    for (std::size_t person = 0; person < at(people); ++person) {
      int to_take = (*shares)[person][h];
      while (to_take > 0) {
        if (left_of_next == 0) left_of_next = units.loads[of_heap[h][++next]].count;
        const int n = std::min(to_take, left_of_next);
        for (const Part& part : units.parts[of_heap[h][next]])
          reading.shares[person].push_back({part.item, part.pieces * n});
        to_take -= n;
        left_of_next -= n;
      }
    }
  }
  return reading;
}

bool shares_a_holder(const catalogue::PackKind& a, const catalogue::PackKind& b) {
  return std::any_of(a.fits.begin(), a.fits.end(), [&](const std::string& id) {
    return std::find(b.fits.begin(), b.fits.end(), id) != b.fits.end();
  });
}

// The largest pack that goes into the same holder and is decided by a rule without approval; null when there is none.
template <typename Accept>
const catalogue::PackKind* largest_instead(const catalogue::Catalogue& catalogue, const Item& item, Accept accept) {
  const catalogue::PackKind* best = nullptr;
  for (const catalogue::PackKind& kind : catalogue.packs) {
    if (kind.id == item.kind->id || !shares_a_holder(*item.kind, kind) || !accept(kind)) continue;
    if (best == nullptr || kind.rated_wh > best->rated_wh) best = &kind;
  }
  return best;
}

void find_alternatives(Answer& answer, const catalogue::Catalogue& catalogue) {
  const auto plain = [&](const catalogue::PackKind& kind) {
    const TravelRule* rule = rule_for(catalogue.travel_rules, answer.date,
                                      {.kind = kind.travel.kind,
                                       .rated_wh = kind.rated_wh,
                                       .lithium_g = kind.travel.lithium_g / kind.travel.pieces,
                                       .volts = kind.nominal_v});
    return rule != nullptr && rule->goes != TravelRule::Goes::cargo && !rule->approval;
  };
  const auto over = [&](const std::string& key) {
    return std::any_of(answer.strict.tallies.begin(), answer.strict.tallies.end(), [&](const Tally& tally) {
      return tally.limit->id == key && tally.count > tally.limit->most_a_person * answer.travellers;
    });
  };
  bool cargo = false;
  for (std::size_t i = 0; i < answer.items.size(); ++i) {
    const Item& item = answer.items[i];
    const int index = static_cast<int>(i);
    if (!item.in_baggage() || item.approval) {
      if (const auto* kind = largest_instead(catalogue, item, [&](const auto& k) { return plain(k); })) {
        const double all_wh = item.rated_wh * static_cast<double>(item.packs.size());
        answer.alternatives.push_back(
            {Instead::smaller_pack, index, kind, static_cast<int>(std::floor(all_wh / kind->rated_wh + 0.999999))});
      }
      cargo = cargo || !item.in_baggage();
    }
    const auto counts = [&](const std::vector<std::string>& ids) { return std::any_of(ids.begin(), ids.end(), over); };
    if (item.bank != nullptr && counts(item.bank->counts)) {
      const auto* kind = largest_instead(catalogue, item, [&](const auto& k) {
        return plain(k) && !k.travel.is_power_bank && !k.travel.may_be_power_bank;
      });
      if (kind != nullptr)
        answer.alternatives.push_back(
            {Instead::plain_pack, index, kind,
             static_cast<int>(
                 std::floor(item.rated_wh * static_cast<double>(item.packs.size()) / kind->rated_wh + 0.999999))});
    }
    if (item.kind->travel.kind == TravelClass::Kind::lithium_metal &&
        (counts(item.rule->counts) || counts(item.rule->may_count))) {
      const auto* kind = largest_instead(catalogue, item, [&](const auto& k) {
        return k.travel.kind == TravelClass::Kind::nickel || k.travel.kind == TravelClass::Kind::alkaline;
      });
      if (kind != nullptr)
        answer.alternatives.push_back({Instead::dry_cells, index, kind, static_cast<int>(item.packs.size())});
    }
  }
  if (!answer.strict.fits && answer.strict.people_needed > answer.travellers)
    answer.alternatives.push_back({Instead::more_travellers, -1, nullptr, answer.strict.people_needed});
  if (cargo || !answer.strict.fits) {
    answer.alternatives.push_back({Instead::by_ground});
    answer.alternatives.push_back({Instead::rent_there});
  }
}

}  // namespace

const TravelRule* rule_for(const std::vector<TravelRule>& rules, const std::string& date, const Battery& battery) {
  for (const TravelRule& rule : rules) {
    if (rule.says == Says::what_may && !rule.covers_banks && rule.covers == battery.kind && holds_on(rule, date) &&
        covers(rule, battery))
      return &rule;
  }
  return nullptr;
}

Answer answer(const day::Scenario& day, const kit::Inventory& inventory, const catalogue::Catalogue& catalogue,
              const Question& question) {
  Answer out{.date = question.date, .travellers = question.travellers};
  const std::vector<TravelRule>& rules = catalogue.travel_rules;
  for (const TravelRule& rule : rules) {
    if (rule.says != Says::what_may || rule.covers_banks) continue;
    if (out.first_day.empty() || rule.valid_from < out.first_day) out.first_day = rule.valid_from;
    if (rule.valid_until > out.last_day) out.last_day = rule.valid_until;
  }
  for (int p = 0; p < static_cast<int>(day.packs.size()); ++p) {
    const kit::PackItem& pack = inventory.packs[at(p)];
    if (pack.travels == kit::Travels::stays) {
      out.stays.push_back(p);
      continue;
    }
    const TravelClass& travel = pack.kind->travel;
    const bool is_bank = travel.is_power_bank || travel.may_be_power_bank;
    Item item{.kind = pack.kind, .rated_wh = pack.rated_wh, .pieces = travel.pieces};
    // A certain power bank is a spare wherever it sits.
    item.in_device = !travel.is_power_bank && (pack.travels == kit::Travels::in_device ||
                                               (pack.travels == kit::Travels::unsaid && built_in(day, p)));
    item.lithium_g = travel.lithium_g / travel.pieces;
    const Battery battery{.kind = travel.kind,
                          .in_device = item.in_device,
                          .rated_wh = item.rated_wh,
                          .lithium_g = item.lithium_g,
                          .volts = pack.kind->nominal_v};
    item.rule = rule_for(rules, out.date, battery);
    if (item.rule == nullptr) {
      out.dated = false;
      return out;
    }
    item.approval = item.rule->approval;
    if (is_bank && !item.in_device) {
      item.bank = bank_rule(rules, out.date, battery);
      item.bank_unclear = !travel.is_power_bank;
    }
    auto same = std::find_if(out.items.begin(), out.items.end(), [&](const Item& other) {
      return other.kind == item.kind && other.rated_wh == item.rated_wh && other.in_device == item.in_device;
    });
    if (same == out.items.end()) same = out.items.insert(out.items.end(), std::move(item));
    same->packs.push_back(p);
    if (same->in_device) same->in.push_back(device_of(day, inventory, p));
  }
  std::vector<const TravelRule*> limits;
  for (const TravelRule& rule : rules) {
    if (rule.says == Says::limit && holds_on(rule, out.date)) limits.push_back(&rule);
  }
  out.strict = read(out.items, limits, true, out.travellers);
  out.narrow = read(out.items, limits, false, out.travellers);
  for (std::size_t k = 0; k < limits.size(); ++k)
    out.readings_differ = out.readings_differ || out.strict.tallies[k].count != out.narrow.tallies[k].count;
  out.all_fly = out.strict.fits;
  for (std::size_t i = 0; i < out.items.size(); ++i) {
    if (!out.items[i].in_baggage()) out.all_fly = false;
    if (out.items[i].approval) out.approvals.push_back(static_cast<int>(i));
  }
  find_alternatives(out, catalogue);
  for (const TravelRule& rule : rules) {
    if (!holds_on(rule, out.date)) continue;
    bool used = rule.says == Says::notice;
    for (const Item& item : out.items) used = used || item.rule == &rule || item.bank == &rule;
    for (const Tally& tally : out.strict.tallies) used = used || (tally.limit == &rule && tally.count > 0);
    if (used) out.rules.push_back(&rule);
  }
  return out;
}

}  // namespace tillwrap::travel
