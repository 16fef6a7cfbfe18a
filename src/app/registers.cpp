#include "app/registers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/cell_columns.hpp"
#include "quantity/quantity.hpp"

namespace tillwrap::app {

namespace {

// Section 5.1 of the specification: codes, names, and the range of a value as it is exported.
struct Register {
  int code;
  const char* name;
  double least;
  double most;
};
constexpr Register kRegisters[] = {
    {0x08, "temperature", 2000.0, 3800.0},  // 0.1 K
    {0x09, "voltage", 0.0, 65535.0},        // mV
    {0x0A, "current", -32768.0, 32767.0},   // mA, discharge negative
    {0x0B, "averagecurrent", -32768.0, 32767.0},
    {0x0D, "relativestateofcharge", 0.0, 100.0},  // %
    {0x0E, "absolutestateofcharge", 0.0, 65535.0},
    {0x0F, "remainingcapacity", 0.0, 65535.0},   // mAh
    {0x10, "fullchargecapacity", 0.0, 65535.0},  // mAh
    {0x17, "cyclecount", 0.0, 65535.0},
    {0x18, "designcapacity", 0.0, 65535.0},  // mAh
    // Optional registers, the maker's own by the specification; in use for volts a cell (from memory). mV.
    {0x3F, "optionalmfgfunction1", 0.0, 65535.0},
    {0x3E, "optionalmfgfunction2", 0.0, 65535.0},
    {0x3D, "optionalmfgfunction3", 0.0, 65535.0},
    {0x3C, "optionalmfgfunction4", 0.0, 65535.0},
};
constexpr int kFirstCell = 0x3F;  // the others count down from it
constexpr int kMostCells = 4;

std::string letters(const std::string& text) {
  std::string out;
  for (const char c : text) {
    if ((c >= 'a' && c <= 'z') || (c >= '0' && c <= '9')) out += c;
    if (c >= 'A' && c <= 'Z') out += static_cast<char>(c - 'A' + 'a');
  }
  return out;
}

// "0x0F", "0x0f RemainingCapacity", "RemainingCapacity() [mAh]", "Voltage (0x09)".
const Register* register_of(const std::string& column) {
  const std::string plain = letters(column);
  for (const Register& one : kRegisters) {
    if (plain.find(fmt::format("0x{:02x}", one.code)) != std::string::npos) return &one;
  }
  const std::string name = letters(column.substr(0, column.find_first_of("([")));
  for (const Register& one : kRegisters) {
    if (name == one.name) return &one;
  }
  return nullptr;
}

bool is_number(const std::string& column) {
  const std::string plain = letters(column);
  return plain.find("0x") != std::string::npos;
}

class Reader {
 public:
  Reader(CsvLog& csv, const std::string& source) : csv_(csv), source_(source) {
    for (std::size_t c = 0; c < csv.names.size(); ++c) {
      const Register* one = register_of(csv.names[c]);
      if (one == nullptr) continue;
      if (column(one->code) != nullptr) {
        throw decode::InputError(source, csv.header[c], fmt::format("the register {:#04x} stands twice", one->code),
                                 "keep one of the columns");
      }
      found_.push_back({one, c});
      check(*one, c);
    }
  }

  std::vector<double>* column(int code) {
    const auto it = std::find_if(found_.begin(), found_.end(), [&](const auto& f) { return f.first->code == code; });
    return it == found_.end() ? nullptr : &csv_.columns[it->second];
  }
  void name(int code, const char* as) {
    for (const auto& [one, c] : found_) {
      if (one->code == code) csv_.names[c] = as;
    }
  }
  // First and last value that is there.
  std::pair<std::optional<double>, std::optional<double>> ends(int code, double factor) {
    std::pair<std::optional<double>, std::optional<double>> out;
    const std::vector<double>* values = column(code);
    if (values == nullptr) return out;
    for (const double value : *values) {
      if (std::isnan(value)) continue;
      if (!out.first) out.first = factor * value;
      out.second = factor * value;
    }
    return out;
  }

 private:
  void check(const Register& one, std::size_t c) {
    for (std::size_t k = 0; k < csv_.columns[c].size(); ++k) {
      const double value = csv_.columns[c][k];
      if (std::isnan(value) || (value >= one.least && value <= one.most)) continue;
      throw decode::InputError(
          source_, {csv_.line[k], csv_.at[c][k]},
          fmt::format("{:g} is no value of the register {:#04x}", value, one.code),
          fmt::format("allowed: {:g} to {:g}{}", one.least, one.most,
                      one.code == 0x08 ? ", in tenths of a kelvin" : ", in milli-units or per cent"));
    }
  }

  CsvLog& csv_;
  const std::string& source_;
  std::vector<std::pair<const Register*, std::size_t>> found_;
};

}  // namespace

bool are_registers(const CsvLog& csv) {
  return std::any_of(csv.names.begin(), csv.names.end(), [](const std::string& name) {
    const Register* one = register_of(name);
    // "voltage" and "current" alone are any log's.
    return one != nullptr && (is_number(name) || one->code >= 0x0D);
  });
}

Registers read_registers(CsvLog& csv, const std::string& source, std::vector<std::string>& notes) {
  Reader reader(csv, source);
  Registers out;
  out.full_ah = reader.ends(0x10, 1e-3).second;
  out.design_ah = reader.ends(0x18, 1e-3).second;
  out.cycles = reader.ends(0x17, 1.0).second;
  std::tie(out.first_fraction, out.last_fraction) = reader.ends(0x0D, 0.01);
  std::tie(out.first_remaining_ah, out.last_remaining_ah) = reader.ends(0x0F, 1e-3);
  if (std::vector<double>* volts = reader.column(0x09)) {
    for (double& v : *volts) v *= 1e-3;
    reader.name(0x09, "voltage_v");
  }
  const int current_code = reader.column(0x0A) != nullptr ? 0x0A : 0x0B;
  if (std::vector<double>* amps = reader.column(current_code)) {
    double sum = 0.0;
    for (const double a : *amps) sum += std::isnan(a) ? 0.0 : a;
    const bool emptied = out.first_fraction && out.last_fraction && *out.last_fraction < *out.first_fraction;
    const bool turned = sum > 0.0 && emptied;
    if (turned)
      notes.push_back(
          source + ": the current is positive while the charge falls, against the specification: taken as discharge");
    for (double& a : *amps) a *= turned ? 1e-3 : -1e-3;
    reader.name(current_code, "current_a");
  }
  if (std::vector<double>* warm = reader.column(0x08)) {
    for (double& t : *warm) t = 0.1 * t - kZeroCelsiusK;
    reader.name(0x08, "surface_c");
  }
  for (int cell = 0; cell < kMostCells; ++cell) {
    std::vector<double>* volts = reader.column(kFirstCell - cell);
    if (volts == nullptr) continue;
    for (double& v : *volts) v *= 1e-3;
    reader.name(kFirstCell - cell, cell_column(cell + 1).c_str());
  }
  constexpr std::size_t kLeastRows = 10;
  const bool timed = std::any_of(csv.names.begin(), csv.names.end(), [](const std::string& name) {
    const std::string plain = letters(name);
    return plain.starts_with("time") || plain == "t" || plain.starts_with("elapsed");
  });
  out.has_log = csv.line.size() >= kLeastRows && timed && csv.column("voltage_v") != nullptr &&
                csv.column("current_a") != nullptr;
  return out;
}

}  // namespace tillwrap::app
