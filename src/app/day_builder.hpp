// Work space of the day-file decoder: the scenario being built and the names that already exist.
#pragma once

#include <map>
#include <string>
#include <utility>
#include <vector>

#include "app/day_file.hpp"
#include "decode/table_reader.hpp"

namespace tillwrap::app {

class DayBuilder {
 public:
  DayBuilder(const decode::Document& document, const catalogue::Catalogue& catalogue, const ParamsFiles& params);

  DayFile build();

 private:
  using Reader = decode::TableReader;

  // What a wire can end at.
  struct Point {
    int port = -1;
    std::string plug;        // connector id of the socket; empty: none named
    bool is_source = false;  // gives power
    bool taken = false;
    bool leads_away = false;  // a wire starts here
    double fuse_a = 0.0;      // behind it in a box
    std::string fuse_kind;    // catalogue id
  };
  struct DeviceNote {  // kept for checks after the wiring is known
    Reader reader;
    const catalogue::DeviceKind* kind;
    std::vector<catalogue::DeviceInput> inputs;
    std::vector<int> input_lead;  // lead of each wired input, -1
    std::vector<std::string> input_names;
    bool usually_off = false;
    std::string group;
  };
  struct HolderNote {
    Reader reader;
    const catalogue::HolderKind* kind;
  };
  struct WireNote {
    Reader reader;
    int lead;
  };

  // day_builder.cpp
  void read_head(Reader& root);
  void read_places(Reader& root);
  void read_periods(Reader& root);
  void read_measured(Reader& root);
  void read_spread(Reader& root);
  void read_prices(Reader& root);
  void read_settings(Reader& root);
  void read_rest(Reader& root);  // day_rest.cpp
  void name_once(const Reader& reader, const std::string& key, const std::string& name, const std::string& what);
  [[nodiscard]] double clock(double written_s) const;  // moved past midnight where the day needs it
  int place_index(Reader& reader, const std::string& key, const std::string& otherwise);
  int new_port(const std::string& name, int place);
  // The same, refused when it lies outside the day; `what` begins the message.
  [[nodiscard]] double clock_in_day(double written_s, decode::Place where, const std::string& what) const;
  std::pair<double, double> clock_span(const std::string& text, decode::Place where);

  // day_kit.cpp
  void read_packs(Reader& root);
  [[nodiscard]] const decode::Document& params_file(Reader& reader) const;
  [[nodiscard]] catalogue::CellKind cell_of(Reader& reader, const catalogue::PackKind& kind) const;
  void read_holders(Reader& root);
  void read_chargers(Reader& root);
  void read_slots(Reader& reader, const decode::Node& list, int holder, bool charging);
  void check_slots();
  [[nodiscard]] int pack_index(const Reader& reader, const decode::Node& node, const std::string& label) const;

  // day_wiring.cpp
  void read_sources(Reader& root);
  void read_boxes(Reader& root);
  void read_devices(Reader& root);

  // day_wires.cpp
  void read_wires(Reader& root);
  void join_holders();
  void finish_devices();
  Point& point(Reader& reader, const std::string& key, bool source_side);
  [[nodiscard]] std::vector<std::string> point_names(bool source_side) const;

  // day_checks.cpp
  void check_wiring();
  void refuse_loops();
  day::Fuse fuse(Reader& reader, const std::string& key, const std::string& kind_id, double rated_a) const;

  void warn(decode::Place place, std::string text);
  template <typename Kind>
  const Kind& kind_of(Reader& reader, const Kind* (catalogue::Catalogue::*find)(std::string_view) const,
                      const std::string& list);

  const decode::Document& document_;
  const catalogue::Catalogue& catalogue_;
  const ParamsFiles& params_;
  DayFile out_;
  day::Scenario& day_;
  std::map<std::string, std::pair<std::string, decode::Place>> names_;  // name -> what it is and where
  std::map<std::string, int> places_;
  std::map<std::string, int> packs_;
  std::map<std::string, int> holders_;
  std::map<std::string, int> devices_;
  std::map<std::string, int> supplies_;
  std::map<std::string, Point> points_;
  std::vector<DeviceNote> device_notes_;
  std::vector<HolderNote> holder_notes_;
  std::vector<WireNote> wire_notes_;
  std::vector<Reader> source_notes_;
  std::map<std::string, std::vector<std::pair<std::string, std::string>>> box_inputs_;  // box -> (point, holder kind)
  std::vector<decode::Place> pack_places_;
  std::vector<std::vector<decode::Place>> slot_places_;  // by holder
};

template <typename Kind>
const Kind& DayBuilder::kind_of(Reader& reader, const Kind* (catalogue::Catalogue::*find)(std::string_view) const,
                                const std::string& list) {
  const std::string id = reader.text("kind");
  const Kind* kind = (catalogue_.*find)(id);
  if (kind == nullptr) {
    reader.fail("kind", "the catalogue has no " + list + " entry \"" + id + "\"",
                catalogue::unknown_id_hint(catalogue_, list, id));
  }
  return *kind;
}

}  // namespace tillwrap::app
