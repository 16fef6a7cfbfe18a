// Layout arithmetic by hand; widths are held to the typeface itself in tests/paper.
#include "drawing/picture.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <numbers>

using namespace tillwrap::drawing;

TEST(TextWidth, OneLetterByHand) {
  // DejaVu Sans 2.37: "H" advances 1540 of 2048 units, bold 1714.
  EXPECT_DOUBLE_EQ(text_width("H", 2048.0), 1540.0);
  EXPECT_DOUBLE_EQ(text_width("H", 2048.0, true), 1714.0);
  EXPECT_DOUBLE_EQ(text_width("−°", 2048.0), 1716.0 + 1024.0);
}

RC_GTEST_PROP(TextWidth, WrappedLinesFitAndKeepEveryWord, (const std::vector<std::string>& drawn)) {
  std::string text;
  std::vector<std::string> words;
  for (const std::string& raw : drawn) {
    std::string word;
    for (const char c : raw) {
      if (c > ' ' && c < 0x7f) word += c;
    }
    if (word.empty() || word.size() > 12) continue;
    words.push_back(word);
    text += (text.empty() ? "" : " ") + word;
  }
  const double width = 200.0;  // the longest word of twelve M is 12 * 0.863 * 9 = 93
  std::string joined;
  for (const std::string& line : wrapped(text, width, 9.0)) {
    RC_ASSERT(text_width(line, 9.0) <= width);
    joined += (joined.empty() ? "" : " ") + line;
  }
  RC_ASSERT(joined == text);
}

// Names without a blank are broken, not cut: put together again the lines are the text.
RC_GTEST_PROP(TextWidth, LongWordsAreBrokenNotCut, ()) {
  std::string text;
  const int words = *rc::gen::inRange(1, 4);
  for (int k = 0; k < words; ++k) {
    const int letters = *rc::gen::inRange(1, 60);
    for (int c = 0; c < letters; ++c) text += *rc::gen::element('a', 'M', 'i', '-', '_', '7');
    text += ' ';
  }
  const double width = 0.1 * *rc::gen::inRange(120, 900);  // an M is 0.863 * 9 = 7.8
  std::string joined;
  for (const std::string& line : wrapped(text, width, 9.0)) {
    RC_ASSERT(text_width(line, 9.0) <= width);
    RC_ASSERT(!line.empty());
    joined += line;
  }
  std::erase(joined, ' ');
  std::erase(text, ' ');
  RC_ASSERT(joined == text);
}

TEST(TextWidth, PartedAfterAHyphen) {
  const double width = text_width("Nordlicht-Kiste-", 9.0) + 3.0;
  EXPECT_EQ(wrapped("Nordlicht-Kiste-12-C1", width, 9.0), (std::vector<std::string>{"Nordlicht-Kiste-", "12-C1"}));
}

TEST(TextWidth, CutWithAnEllipsis) {
  const std::string cut = fitted("a very long name of a thing", 60.0, 9.0);
  EXPECT_LE(text_width(cut, 9.0), 60.0);
  EXPECT_TRUE(cut.ends_with("…"));
  EXPECT_EQ(fitted("short", 60.0, 9.0), "short");
}

TEST(Extent, TurnedText) {
  // A line turned by a quarter reaches down by its width.
  const Extent lying = extent(Item(Text{.at = {10.0, 20.0}, .words = "HH", .size = 10.0}));
  const Extent turned = extent(Item(Text{.at = {10.0, 20.0}, .words = "HH", .size = 10.0, .turned_deg = 90.0}));
  EXPECT_NEAR(turned.bottom - turned.top, lying.right - lying.left, 1e-9);
  EXPECT_NEAR(turned.top, 20.0, 1e-9);
  const Extent slanted = extent(Item(Text{.at = {0.0, 0.0}, .words = "HH", .size = 10.0, .turned_deg = 30.0}));
  const double wide = text_width("HH", 10.0);
  EXPECT_NEAR(slanted.right, wide * std::cos(std::numbers::pi / 6.0) + 7.6 * 0.5, 1e-6);
}

TEST(Picture, PlacedScaledOnce) {
  Picture small;
  small.width = 10.0;
  small.height = 10.0;
  small.line({0.0, 0.0}, {10.0, 10.0}, 1.0);
  Picture big;
  big.place(small, {100.0, 50.0}, 2.0);
  const Extent found = extent(big.items.front());
  EXPECT_NEAR(found.left, 100.0 - 1.0, 1e-12);
  EXPECT_NEAR(found.bottom, 70.0 + 1.0, 1e-12);
}
