#include <fmt/format.h>

#include "app/forecast_report.hpp"
#include "sheet/sheet.hpp"

namespace tillwrap::app {

std::string forecast_csv(const ForecastReport& report) {
  const day::Scenario& day = report.file->scenario;
  const forecast::Trace& trace = report.forecast->run.trace;
  std::string out = "at_s";
  for (const day::Device& device : day.devices) out += "," + sheet::csv_field(device.name + " volts_v");
  for (const day::Holder& holder : day.holders) {
    for (const char* what : {" pack", " volts_v", " current_a", " charge", " temperature_c"})
      out += "," + sheet::csv_field(holder.name + what);
  }
  for (const day::Place& place : day.places) out += "," + sheet::csv_field(place.name + " temperature_c");
  out += "\r\n";
  for (std::size_t row = 0; row < trace.at_s.size(); ++row) {
    out += fmt::format("{:.1f}", trace.at_s[row]);
    for (const auto& volts : trace.device_v) out += fmt::format(",{:.4f}", volts[row]);
    for (std::size_t h = 0; h < day.holders.size(); ++h) {
      const int pack = trace.holder_pack[h][row];
      if (pack < 0) {
        out += fmt::format(",,,,,{:.2f}", trace.holder_k[h][row] - 273.15);
        continue;
      }
      out += fmt::format(
          ",{},{:.4f},{:.4f},{:.5f},{:.2f}", sheet::csv_field(day.packs[static_cast<std::size_t>(pack)].params.label),
          trace.holder_v[h][row], trace.holder_a[h][row], trace.holder_charge[h][row], trace.holder_k[h][row] - 273.15);
    }
    for (const auto& place_k : trace.place_k) out += fmt::format(",{:.2f}", place_k[row] - 273.15);
    out += "\r\n";
  }
  return out;
}

}  // namespace tillwrap::app
