#include "app/compose.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <stdexcept>

#include "app/compose_feed.hpp"
#include "decode/units.hpp"
#include "wiring/wire.hpp"

namespace tillwrap::app {

namespace {

using catalogue::Catalogue;
using catalogue::DeviceKind;
using catalogue::HolderKind;
using catalogue::PackKind;

// Lead lengths, one way (common practice, no source): within a bag, across a cart, from the block under it.
constexpr double kBag_m = 0.4;
constexpr double kRecorder_m = 0.5;
constexpr double kCart_m = 1.2;
constexpr double kMostDropShare = 0.02;  // of the source's volts, in the lead's copper
constexpr double kMeal_s = 2700.0;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// A holder that a feed of this kind always has.
const HolderKind& always(const HolderKind* holder) {
  if (holder == nullptr) throw std::logic_error("a feed without its holder");
  return *holder;
}

bool is_in(const std::vector<std::string>& list, const std::string& id) {
  return std::find(list.begin(), list.end(), id) != list.end();
}

bool is_cells(const PackKind& pack) { return pack.id.starts_with("aa-"); }

// What goes into a holder of a device: the wished pack or family where it fits, otherwise the first that does.
const PackKind* cells_for(const HolderKind& holder, const std::string& wished, const Catalogue& catalogue) {
  for (const std::string& id : holder.fits) {
    if (id == wished || id.substr(0, id.rfind("-x")) == wished) return catalogue.pack(id);
  }
  return holder.fits.empty() ? nullptr : catalogue.pack(holder.fits.front());
}

// The holder its own cells sit in: one that takes what was wished, or the last listed (the door or tray).
const HolderKind* own_holder(const DeviceKind& kind, const std::string& wished, const Catalogue& catalogue) {
  for (const std::string& id : kind.holders) {
    const HolderKind* holder = catalogue.holder(id);
    if (is_in(holder->fits, wished)) return holder;
  }
  return kind.holders.empty() ? nullptr : catalogue.holder(kind.holders.back());
}

std::string group_of(const DeviceKind& kind) {
  if (kind.family == "receiver" || kind.family == "antenna") return "receivers";
  if (kind.family == "body-pack") return "cast";
  if (kind.family == "belt-pack") return "cues";
  if (kind.family == "transmitter") return "links";
  return "";
}

bool may_drop(const DeviceKind& kind) {
  return kind.family == "belt-pack" || kind.family == "computer" || kind.family == "light" || kind.family == "monitor";
}

std::string clock_words(double at_s) { return decode::quantity_words(at_s, decode::Dimension::clock); }

class Composer {
 public:
  Composer(const Wishes& wishes, const Catalogue& catalogue) : wishes_(wishes), catalogue_(catalogue) {}

  Composed compose() {
    name_units();
    const PackKind* pack = wishes_.pack.empty() ? nullptr : catalogue_.pack(wishes_.pack);
    const FeedList feed = main_feed(units_, pack, wishes_.packs, wishes_.holder, wishes_.box, catalogue_);
    on_cart_ = feed.holder != nullptr && feed.holder->place == "cart";
    if (pack != nullptr && feed.pack == nullptr)
      notes_.push_back(fmt::format("{} is left out: nothing here runs from it", pack->id));
    add_main(feed);
    for (std::size_t u = 0; u < units_.size(); ++u) add_unit(feed, u);
    Json day;
    day["format"] = 1;
    day["title"] = wishes_.title.empty() ? std::string("My day") : wishes_.title;
    day["day"] = head();
    for (const auto& [key, list] : {std::pair{"pack", &packs_},
                                    {"holder", &holders_},
                                    {"box", &boxes_},
                                    {"device", &devices_},
                                    {"wire", &wires_}}) {
      if (!list->empty()) day[key] = *list;
    }
    day["period"] = periods();
    return {.day = std::move(day), .box = feed.box == nullptr ? "" : feed.box->id, .notes = std::move(notes_)};
  }

 private:
  using FeedList = MainFeed;

  std::string fresh(const std::string& wanted) {
    std::string name = wanted;
    for (int n = 2; !taken_.insert(name).second; ++n) name = fmt::format("{} {}", wanted, n);
    return name;
  }

  void name_units() {
    std::map<std::string, int> of_base, used;
    const auto base_of = [](const DeviceKind& kind) {
      if (kind.family == "recorder" || kind.family == "receiver" || kind.family == "body-pack") return kind.family;
      std::string base = kind.id;
      std::replace(base.begin(), base.end(), '-', ' ');
      return base;
    };
    for (const DeviceWish& wish : wishes_.devices) of_base[base_of(*catalogue_.device(wish.kind))] += wish.count;
    for (std::size_t w = 0; w < wishes_.devices.size(); ++w) {
      const DeviceWish& wish = wishes_.devices[w];
      const DeviceKind& kind = *catalogue_.device(wish.kind);
      const std::string base = base_of(kind);
      for (int k = 0; k < wish.count; ++k) {
        const int n = used[base]++;
        std::string name = base;
        if (of_base[base] > 1 || kind.family == "body-pack") {
          name += kind.family == "body-pack" && n < 26 ? fmt::format(" {}", static_cast<char>('A' + n))
                                                       : fmt::format(" {}", n + 1);
        }
        const std::string cells = wish.cells.empty() ? wishes_.cells : wish.cells;
        double watts = kind.modes.empty() ? 0.0 : kind.modes.front().draw_w.typical;
        // Constant current is sized at the main pack's volts.
        if (!kind.modes.empty() && kind.modes.front().constant_current)
          watts = kind.modes.front().draw_a.typical *
                  (wishes_.pack.empty() ? 12.0 : catalogue_.pack(wishes_.pack)->nominal_v);
        if (!wish.draw.empty()) {
          const decode::Draw draw = decode::parse_draw(wish.draw);
          watts = draw.kind == decode::Draw::Kind::current      ? 14.4 * draw.value
                  : draw.kind == decode::Draw::Kind::resistance ? 14.4 * 14.4 / draw.value
                                                                : draw.value;
        }
        for (const std::string& amps : wish.phantom)
          watts += 48.0 * decode::parse_quantity(amps, decode::Dimension::current) / 0.75;
        const HolderKind* holder = own_holder(kind, cells, catalogue_);
        // A receiver with a battery door rides on a camera, a box with a cell inside keeps its own time.
        const bool apart = holder != nullptr && (kind.family == "receiver" || holder->change_s <= 0.0);
        units_.push_back({.kind = &kind,
                          .name = fresh(name),
                          .wish = static_cast<int>(w),
                          .watts = watts,
                          .on_cells = holder != nullptr && (wish.on_cells || apart),
                          .can_cells = holder != nullptr});
      }
    }
  }

  std::vector<std::string> add_packs(const PackKind& kind, const std::string& stem, int count, const char* spare) {
    std::vector<std::string> labels;
    for (int k = 0; k < count; ++k) labels.push_back(fresh(count == 1 ? stem : fmt::format("{}{}", stem, k + 1)));
    Json pack;
    if (count == 1) {
      pack["label"] = labels.front();
    } else {
      pack["labels"] = labels;
    }
    pack["kind"] = kind.id;
    if (spare != nullptr) pack["spare"] = spare;
    packs_.push_back(std::move(pack));
    return labels;
  }

  // Gauge: carries the fuse before it (or the load), and keeps the drop in the copper small.
  void add_wire(const std::string& from, const std::string& to, const std::string& from_plug,
                const std::string& to_plug, double length_m, double volts, double drawn_a, double guard_a,
                double own_fuse_a = 0.0) {
    static constexpr int kSizes[] = {24, 22, 20, 18, 16, 14, 12};
    int size = kSizes[std::size(kSizes) - 1];
    for (const int awg : kSizes) {
      const double most_a = wiring::ampacity_a(wiring::awg_area_mm2(awg));
      const double drop_v = drawn_a * wiring::pair_ohm(wiring::awg_ohm_per_m(awg), length_m);
      if (most_a < std::max(guard_a, drawn_a) || drop_v > kMostDropShare * volts) continue;
      size = awg;
      break;
    }
    Json wire = {{"from", from},
                 {"to", to},
                 {"length", fmt::format("{:g} m", length_m)},
                 {"wire", fmt::format("AWG {}", size)},
                 {"plugs", Json::array({from_plug, to_plug})}};
    if (own_fuse_a > 0.0) {
      wire["fuse"] = fmt::format("{:g} A", own_fuse_a);
      wire["fuse_kind"] = "fuse-blade";
    }
    wires_.push_back(std::move(wire));
  }

  // The smallest blade fuse that holds that current for hours.
  double fuse_for(double drawn_a) const {
    const catalogue::FuseKind* kind = catalogue_.fuse("fuse-blade");
    for (const double rated_a : kind->ratings_a) {
      if (rated_a * kind->long_fraction >= drawn_a) return rated_a;
    }
    return kind->ratings_a.back();
  }

  double together_a(const FeedList& feed) const {
    double watts = feed.box == nullptr ? 0.0 : feed.box->idle_w;
    for (std::size_t u = 0; u < units_.size(); ++u) {
      if (feed.feeds[u].from == UnitFeed::From::box || feed.feeds[u].from == UnitFeed::From::direct)
        watts += units_[u].watts;
    }
    return feed_amps(watts, feed.volts.nominal_v, feed.pack->regulator.has_value());
  }

  void add_main(const FeedList& feed) {
    if (feed.pack == nullptr) return;
    const std::vector<std::string> labels = add_packs(*feed.pack, wishes_.packs == 1 ? "P1" : "P", wishes_.packs,
                                                      is_cells(*feed.pack) ? "pocket" : nullptr);
    if (feed.level_v > 0.0) packs_.back()["pd"] = fmt::format("{:g} V", feed.level_v);
    const std::string box = feed.box == nullptr ? "" : fresh("box");
    if (feed.box != nullptr) {
      Json made = {{"name", box}, {"kind", feed.box->id}};
      if (on_cart_) made["place"] = "cart";
      boxes_.push_back(std::move(made));
    }
    const std::string& id = always(feed.holder).id;
    std::string stem = id.substr(0, id.find('-'));
    for (int h = 0; h < feed.holders; ++h) {
      const std::string name = fresh(feed.holders == 1 ? stem : fmt::format("{} {}", stem, h + 1));
      main_holders_.push_back(name);
      Json holder = {{"name", name}, {"kind", feed.holder->id}};
      if (!on_cart_ && feed.holder->place != "bag") holder["place"] = "bag";
      Json order = Json::array();
      for (std::size_t k = at(h); k < labels.size(); k += at(feed.holders)) order.push_back(labels[k]);
      if (feed.box != nullptr && !feed.by_lead) holder["in"] = fmt::format("{}.in-{}", box, input_of(feed, h));
      holder["packs"] = order;
      holders_.push_back(std::move(holder));
      if (!feed.by_lead) continue;
      const std::string plug = lead_plug(feed);
      const std::string& socket = feed.box->inputs[at(h)];
      const double drawn_a = together_a(feed);
      const double fuse_a = fuse_for(drawn_a);
      add_wire(name, fmt::format("{}.in-{}", box, h + 1), plug, socket, on_cart_ ? kCart_m : kBag_m,
               feed.volts.nominal_v, drawn_a, fuse_a, fuse_a);
    }
  }

  static std::string lead_plug(const FeedList& feed) {
    if (!feed.holder->plug.empty()) return feed.holder->plug;
    return feed.pack->plug.empty() ? "screw-terminal" : feed.pack->plug;  // a plate or cup with a lead screwed on
  }

  // Number of the h-th input of the box that is such a holder.
  static int input_of(const FeedList& feed, int h) {
    int seen = 0;
    for (std::size_t i = 0; i < feed.box->inputs.size(); ++i) {
      if (feed.box->inputs[i] == feed.holder->id && seen++ == h) return static_cast<int>(i) + 1;
    }
    return 1;
  }

  void add_cells(std::size_t u, const char* word, const HolderKind& holder, const std::string& input, int sets) {
    const FeedUnit& unit = units_[u];
    const DeviceWish& wish = wishes_.devices[at(unit.wish)];
    const PackKind* kind = cells_for(holder, wish.cells.empty() ? wishes_.cells : wish.cells, catalogue_);
    const bool fixed = holder.change_s <= 0.0;
    const bool letter = unit.kind->family == "body-pack";
    const std::string stem = letter ? unit.name.substr(unit.name.rfind(' ') + 1) + "-"
                                    : unit.name + (sets > 1 && !fixed ? " cells " : " cells");
    const auto labels = add_packs(*kind, stem, fixed ? 1 : sets, fixed ? nullptr : "pocket");
    Json made = {{"name", fresh(fmt::format("{} {}", unit.name, word))}, {"kind", holder.id}, {"in", input}};
    if (const std::string where = place_of(unit); !where.empty() || holder.place != "bag")
      made["place"] = where.empty() ? "bag" : where;
    made["packs"] = labels;
    holders_.push_back(std::move(made));
  }

  // Where a device is, when that is not the usual place of its kind.
  std::string place_of(const FeedUnit& unit) const {
    const DeviceKind& kind = *unit.kind;
    if (kind.family == "body-pack") return "cast";
    if (kind.family == "belt-pack") return "open";
    if (unit.on_cells && (kind.family == "receiver" || kind.family == "timecode")) return "camera";
    if (kind.family == "timecode" && kind.inputs.front().plug.ends_with("contacts")) return "open";  // a slate
    return on_cart_ ? "cart" : "";
  }

  void add_unit(const FeedList& feed, std::size_t u) {
    const FeedUnit& unit = units_[u];
    const UnitFeed& by = feed.feeds[u];
    const DeviceKind& kind = *unit.kind;
    const DeviceWish& wish = wishes_.devices[at(unit.wish)];
    Json device = {{"name", unit.name}, {"kind", kind.id}};
    if (!wish.draw.empty()) device["draw"] = wish.draw;
    if (!wish.phantom.empty()) device["phantom"] = wish.phantom;
    if (const std::string group = group_of(kind); !group.empty()) device["group"] = group;
    if (const std::string place = place_of(unit); !place.empty()) device["place"] = place;
    const std::string cells = wish.cells.empty() ? wishes_.cells : wish.cells;
    const int sets = wish.sets > 0 ? wish.sets : wishes_.sets;
    bool carried = false;  // through a change of the main pack
    switch (by.from) {
      case UnitFeed::From::box: {
        const catalogue::BoxOutput& output = feed.box->outputs[at(by.output)];
        const catalogue::DeviceInput& input = kind.inputs[at(by.input)];
        const double volts = output.regulator ? output.regulator->output_v : feed.volts.nominal_v;
        const bool regulated = output.regulator || feed.pack->regulator;
        add_wire(boxes_.front()["name"].get<std::string>() + "." + output.name, unit.name + "." + input.name,
                 output.plug, input.plug, length(kind), volts, feed_amps(unit.watts, volts, regulated),
                 output.fuse.empty() ? 0.0 : output.fuse_a);
        if (by.shared) notes_.push_back(fmt::format("{} shares {} over a splitter lead", unit.name, output.name));
        carried = feed.holders > 1;
        break;
      }
      case UnitFeed::From::direct: {
        const double drawn_a = together_a(feed);
        const double fuse_a = feed.pack->regulator ? 0.0 : fuse_for(drawn_a);
        add_wire(main_holders_.front(), unit.name + "." + kind.inputs[at(by.input)].name, lead_plug(feed),
                 kind.inputs[at(by.input)].plug, length(kind), feed.volts.nominal_v, drawn_a, fuse_a, fuse_a);
        break;
      }
      case UnitFeed::From::built_in: {
        const std::string contacts = catalogue::contacts_of(always(feed.holder));
        std::size_t h = 0;
        for (const catalogue::DeviceInput& input : kind.inputs) {
          if (input.plug != contacts || h >= main_holders_.size()) continue;
          holders_[h++]["in"] = unit.name + "." + input.name;
        }
        carried = feed.holders > 1;
        break;
      }
      case UnitFeed::From::own_bank: {
        const PackKind& bank = *catalogue_.pack(by.bank);
        const auto labels = add_packs(bank, unit.name + " bank", 1, nullptr);
        if (by.bank_v > 0.0) packs_.back()["pd"] = fmt::format("{:g} V", by.bank_v);
        const HolderKind* pouch = nullptr;
        for (const HolderKind& holder : catalogue_.holders) {
          if (pouch == nullptr && is_in(holder.fits, bank.id)) pouch = &holder;
        }
        Json holder = {{"name", fresh(unit.name + " pouch")}, {"kind", always(pouch).id}, {"packs", labels}};
        if (on_cart_) holder["place"] = "cart";
        const double volts = by.bank_v > 0.0 ? by.bank_v : bank.regulator->output_v;
        add_wire(holder["name"].get<std::string>(), unit.name + "." + kind.inputs[at(by.input)].name, bank.plug,
                 kind.inputs[at(by.input)].plug, length(kind), volts, unit.watts / volts, 0.0);
        holders_.push_back(std::move(holder));
        notes_.push_back(fmt::format("{} has a bank of its own: no output gives what it takes", unit.name));
        break;
      }
      case UnitFeed::From::own_plate: {
        const int packs = (wishes_.packs + feed.holders - 1) / feed.holders;
        const auto labels = add_packs(*feed.pack, unit.name + (packs > 1 ? " pack " : " pack"), packs, nullptr);
        Json holder = {{"name", fresh(unit.name + " plate")}, {"kind", always(feed.holder).id}, {"packs", labels}};
        if (on_cart_) holder["place"] = "cart";
        const bool regulated = feed.pack->regulator.has_value();
        const double drawn_a = feed_amps(unit.watts, feed.volts.nominal_v, regulated);
        const double fuse_a = regulated ? 0.0 : fuse_for(drawn_a);
        add_wire(holder["name"].get<std::string>(), unit.name + "." + kind.inputs[at(by.input)].name, lead_plug(feed),
                 kind.inputs[at(by.input)].plug, length(kind), feed.volts.nominal_v, drawn_a, fuse_a, fuse_a);
        holders_.push_back(std::move(holder));
        notes_.push_back(fmt::format("{} has a plate and {} of its own, since no box takes these packs", unit.name,
                                     packs == 1 ? "a pack" : fmt::format("{} packs", packs)));
        break;
      }
      case UnitFeed::From::cells: {
        const HolderKind& holder = *own_holder(kind, cells, catalogue_);
        add_cells(u, holder.change_s <= 0.0 ? "inside" : "door", holder, cells_input(kind, holder, unit.name), sets);
        break;
      }
    }
    if (const auto tray = tray_of(kind); wishes_.bridge && tray && by.from != UnitFeed::From::cells &&
                                         kind.family == "recorder" &&
                                         (feed.holder == nullptr || feed.holder->id != tray->second->id)) {
      add_cells(u, "tray", *tray->second, unit.name + "." + tray->first, 1);
      carried = true;
    }
    if (kind.family == "recorder" && carried) {
      device["need"] = "unbroken";
    } else if (may_drop(kind)) {
      device["need"] = "optional";
    }
    devices_.push_back(std::move(device));
  }

  double length(const DeviceKind& kind) const {
    return on_cart_ ? kCart_m : kind.family == "recorder" ? kRecorder_m : kBag_m;
  }

  // The input that is the contacts of that holder.
  static std::string cells_input(const DeviceKind& kind, const HolderKind& holder, const std::string& name) {
    const std::string contacts = catalogue::contacts_of(holder);
    for (const catalogue::DeviceInput& input : kind.inputs) {
      if (input.plug == contacts && holder.id.find(input.name) != std::string::npos) return name + "." + input.name;
    }
    for (const catalogue::DeviceInput& input : kind.inputs) {
      if (input.plug == contacts) return name + "." + input.name;
    }
    for (const catalogue::DeviceInput& input : kind.inputs) {
      if (input.plug.ends_with("contacts")) return name + "." + input.name;
    }
    return name;
  }

  std::optional<std::pair<std::string, const HolderKind*>> tray_of(const DeviceKind& kind) const {
    for (const std::string& id : kind.holders) {
      if (!id.starts_with("tray-")) continue;
      for (const catalogue::DeviceInput& input : kind.inputs) {
        if (input.name == "tray") return std::pair{input.name, catalogue_.holder(id)};
      }
    }
    return std::nullopt;
  }

  Json head() const {
    Json head = {{"call", wishes_.call}, {"wrap", wishes_.wrap}};
    if (!wishes_.off.empty()) head["off"] = wishes_.off;
    if (!wishes_.overrun.empty()) head["overrun"] = wishes_.overrun;
    if (!wishes_.date.empty()) head["date"] = wishes_.date;
    return head;
  }

  bool has_group(const std::string& group) const {
    return std::any_of(devices_.begin(), devices_.end(),
                       [&](const Json& device) { return device.value("group", "") == group; });
  }

  Json periods() const {
    Json list = Json::array();
    for (const PeriodWish& wish : wishes_.periods)
      list.push_back({{"name", wish.name}, {"from", wish.from}, {"air", wish.air}});
    if (!list.empty()) return list;
    Json idle = Json::array();
    for (const char* group : {"receivers", "links", "cues"}) {
      if (has_group(group)) idle.push_back(group);
    }
    const auto add = [&](const std::string& name, const std::string& from, const std::string& air, bool off) {
      Json period = {{"name", name}, {"from", from}, {"air", air}};
      if (off && !idle.empty()) period["off"] = idle;
      list.push_back(std::move(period));
    };
    if (wishes_.meal.empty()) {
      add("shooting", wishes_.call, wishes_.air, false);
    } else {
      add("before the meal", wishes_.call, wishes_.air, false);
      add("meal", wishes_.meal, wishes_.air, true);
      add("after the meal", clock_words(decode::parse_quantity(wishes_.meal, decode::Dimension::clock) + kMeal_s),
          wishes_.air, false);
    }
    if (!wishes_.off.empty() && wishes_.off != wishes_.wrap) add("wrap-out", wishes_.wrap, wishes_.air, true);
    return list;
  }

  const Wishes& wishes_;
  const Catalogue& catalogue_;
  std::vector<FeedUnit> units_;
  std::set<std::string> taken_{"bag", "cart", "open", "camera", "pocket", "cast", "van", "indoors"};
  std::vector<std::string> main_holders_;
  Json packs_ = Json::array(), holders_ = Json::array(), boxes_ = Json::array(), devices_ = Json::array(),
       wires_ = Json::array();
  std::vector<std::string> notes_;
  bool on_cart_ = false;
};

}  // namespace

Composed compose(const Wishes& wishes, const Catalogue& catalogue) { return Composer(wishes, catalogue).compose(); }

}  // namespace tillwrap::app
