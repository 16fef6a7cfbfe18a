// Runs a fuzz target over files: what was once found, and what is usual, on every test run and with any compiler.
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

extern "C" int LLVMFuzzerTestOneInput(const unsigned char* data, std::size_t size);

int main(int count, char** folders) {
  int files = 0;
  for (int i = 1; i < count; ++i) {
    for (const auto& entry : std::filesystem::directory_iterator(folders[i])) {
      if (!entry.is_regular_file()) continue;
      std::ifstream in(entry.path(), std::ios::binary);
      const std::string text((std::istreambuf_iterator<char>(in)), std::istreambuf_iterator<char>());
      // Whole, and cut short in eight places.
      for (std::size_t part = 1; part <= 8; ++part)
        LLVMFuzzerTestOneInput(reinterpret_cast<const unsigned char*>(text.data()), text.size() * part / 8);
      ++files;
    }
  }
  std::printf("%d files\n", files);
  return files > 0 ? 0 : 1;
}
