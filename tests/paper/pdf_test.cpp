// Pictures against the installed typeface and against independent PDF readers (poppler's pdftotext, pdffonts, pdfinfo).
#include "paper/pdf.hpp"

#include <gtest/gtest.h>
#include <pango/pangocairo.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <memory>

using namespace tillwrap;

namespace {

std::string output_of(const std::string& command) {
  const std::unique_ptr<FILE, int (*)(FILE*)> pipe(popen(command.c_str(), "r"), pclose);
  std::string out;
  std::array<char, 4096> block{};
  while (pipe && std::fgets(block.data(), block.size(), pipe.get()) != nullptr) out += block.data();
  return out;
}

double pango_width(const std::string& words, double size, bool bold) {
  PangoFontMap* map = pango_cairo_font_map_new();
  PangoContext* context = pango_font_map_create_context(map);
  PangoLayout* layout = pango_layout_new(context);
  PangoFontDescription* font = pango_font_description_new();
  pango_font_description_set_family(font, "DejaVu Sans");
  pango_font_description_set_weight(font, bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
  pango_font_description_set_absolute_size(font, size * PANGO_SCALE);
  pango_layout_set_font_description(layout, font);
  pango_layout_set_text(layout, words.c_str(), -1);
  PangoAttrList* plain = pango_attr_list_new();
  pango_attr_list_insert(plain, pango_attr_font_features_new("kern=0, liga=0"));
  pango_layout_set_attributes(layout, plain);
  pango_attr_list_unref(plain);
  int units = 0;
  pango_layout_get_size(layout, &units, nullptr);
  pango_font_description_free(font);
  g_object_unref(layout);
  g_object_unref(context);
  g_object_unref(map);
  return static_cast<double>(units) / PANGO_SCALE;
}

class File {
 public:
  explicit File(const std::string& bytes)
      : path_(std::filesystem::temp_directory_path() /
              ("tillwrap-pdf-" + std::to_string(::testing::UnitTest::GetInstance()->random_seed()) + "-" +
               ::testing::UnitTest::GetInstance()->current_test_info()->name() + ".pdf")) {
    std::ofstream(path_, std::ios::binary) << bytes;
  }
  ~File() { std::filesystem::remove(path_); }
  [[nodiscard]] std::string name() const { return path_.string(); }

 private:
  std::filesystem::path path_;
};

drawing::Picture page() {
  drawing::Picture page{.width = 595.28, .height = 841.89, .items = {}};
  page.text({40.0, 60.0}, "Safe to 20:40, likely 22:16; −6 °C at call", 12.0, true);
  page.text({40.0, 80.0}, "pack C1: 98 Wh, 37 % left", 9.0);
  page.box({40.0, 100.0}, 100.0, 50.0, 0.6, drawing::Fill::hatch);
  return page;
}

}  // namespace

TEST(TextWidth, AgreesWithTheTypeface) {
  // Pango on the installed DejaVu Sans, at a size where its rounding to whole units does not show.
  for (const bool bold : {false, true}) {
    for (const std::string words :
         {"The quick brown fox, 14.06 V at −6 °C", "Ångström Żółć çà 50 % ± 2 → off", "recorder.dc"}) {
      const double seen = pango_width(words, 1000.0, bold);
      EXPECT_NEAR(drawing::text_width(words, 1000.0, bold), seen, 0.005 * seen) << words;
    }
  }
}

TEST(Pdf, RealTextInEmbeddedFontsOnOnePage) {
  const File file(paper::pdf(page(), {.title = "Power sheet", .date = "2026-11-25"}));
  const std::string text = output_of("pdftotext -layout '" + file.name() + "' -");
  EXPECT_NE(text.find("Safe to 20:40, likely 22:16; −6 °C at call"), std::string::npos) << text;
  EXPECT_NE(text.find("98 Wh, 37 % left"), std::string::npos) << text;
  const std::string info = output_of("pdfinfo '" + file.name() + "'");
  EXPECT_NE(info.find("Pages:           1"), std::string::npos) << info;
  EXPECT_NE(info.find("A4"), std::string::npos) << info;
  EXPECT_NE(info.find("Power sheet"), std::string::npos) << info;
  const std::string fonts = output_of("pdffonts '" + file.name() + "'");
  EXPECT_NE(fonts.find("DejaVuSans"), std::string::npos) << fonts;
  EXPECT_EQ(fonts.find(" no  yes"), std::string::npos) << "a font that is not embedded\n" << fonts;
}

TEST(Pdf, SameBytesEachTime) {
  EXPECT_EQ(paper::pdf(page(), {.title = "Power sheet", .date = "2026-11-25"}),
            paper::pdf(page(), {.title = "Power sheet", .date = "2026-11-25"}));
}
