#include "machine.hpp"

#include <cstdio>
#include <fstream>
#include <string>
#include <thread>

namespace tillwrap::bench {

namespace {

std::string first_line(const std::string& command) {
  std::string text;
  if (FILE* pipe = popen(command.c_str(), "r")) {
    char line[256];
    if (std::fgets(line, sizeof line, pipe) != nullptr) text = line;
    pclose(pipe);
  }
  while (!text.empty() && (text.back() == '\n' || text.back() == ' ')) text.pop_back();
  return text;
}

}  // namespace

nlohmann::ordered_json machine() {
  std::string model;
  std::ifstream cpu("/proc/cpuinfo");
  for (std::string line; std::getline(cpu, line);) {
    if (line.rfind("model name", 0) == 0) {
      model = line.substr(line.find(':') + 2);
      break;
    }
  }
  return {{"cpu", model}, {"cores", std::thread::hardware_concurrency()}, {"system", first_line("uname -sr")}};
}

}  // namespace tillwrap::bench
