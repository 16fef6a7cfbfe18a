// Advance widths of DejaVu Sans and DejaVu Sans Bold 2.37, in 1/2048 em (read from the font files; tests/paper reads
// them again from the installed ones).
#include <array>
#include <cstdint>

#include "drawing/picture.hpp"

namespace tillwrap::drawing {

namespace {

using Widths = std::array<std::uint16_t, 319>;

// U+0020 to U+007E, then U+00A0 to U+017F.
constexpr Widths kRegular = {
    651,  821,  942,  1716, 1303, 1946, 1597, 563,  799,  799,  1024, 1716, 651,  739,  651,  690,  1303, 1303, 1303,
    1303, 1303, 1303, 1303, 1303, 1303, 1303, 690,  690,  1716, 1716, 1716, 1087, 2048, 1401, 1405, 1430, 1577, 1294,
    1178, 1587, 1540, 604,  604,  1343, 1141, 1767, 1532, 1612, 1235, 1612, 1423, 1300, 1251, 1499, 1401, 2025, 1403,
    1251, 1403, 799,  690,  799,  1716, 1024, 1024, 1255, 1300, 1126, 1300, 1260, 721,  1300, 1298, 569,  569,  1186,
    569,  1995, 1298, 1253, 1300, 1300, 842,  1067, 803,  1298, 1212, 1675, 1212, 1212, 1075, 1303, 690,  1303, 1716,
    651,  821,  1303, 1303, 1303, 1303, 690,  1024, 1024, 2048, 965,  1253, 1716, 739,  2048, 1024, 1024, 1716, 821,
    821,  1024, 1303, 1303, 651,  1024, 821,  965,  1253, 1985, 1985, 1985, 1087, 1401, 1401, 1401, 1401, 1401, 1401,
    1995, 1430, 1294, 1294, 1294, 1294, 604,  604,  604,  604,  1587, 1532, 1612, 1612, 1612, 1612, 1612, 1716, 1612,
    1499, 1499, 1499, 1499, 1251, 1239, 1290, 1255, 1255, 1255, 1255, 1255, 1255, 2011, 1126, 1260, 1260, 1260, 1260,
    569,  569,  569,  569,  1253, 1298, 1253, 1253, 1253, 1253, 1253, 1716, 1253, 1298, 1298, 1298, 1298, 1212, 1300,
    1212, 1401, 1255, 1401, 1255, 1401, 1255, 1430, 1126, 1430, 1126, 1430, 1126, 1430, 1126, 1577, 1300, 1587, 1300,
    1294, 1260, 1294, 1260, 1294, 1260, 1294, 1260, 1294, 1260, 1587, 1300, 1587, 1300, 1587, 1300, 1587, 1300, 1540,
    1298, 1876, 1423, 604,  569,  604,  569,  604,  569,  604,  569,  604,  569,  1208, 1138, 604,  569,  1343, 1186,
    1186, 1141, 569,  1141, 569,  1141, 768,  1141, 700,  1151, 582,  1532, 1298, 1532, 1298, 1532, 1298, 1666, 1532,
    1298, 1612, 1253, 1612, 1253, 1612, 1253, 2191, 2095, 1423, 842,  1423, 842,  1423, 842,  1300, 1067, 1300, 1067,
    1300, 1067, 1300, 1067, 1251, 803,  1251, 803,  1251, 803,  1499, 1298, 1499, 1298, 1499, 1298, 1499, 1298, 1499,
    1298, 1499, 1298, 2025, 1675, 1251, 1212, 1251, 1403, 1075, 1403, 1075, 1403, 1075, 721,
};
constexpr Widths kBold = {
    713,  934,  1067, 1716, 1425, 2052, 1786, 627,  936,  936,  1071, 1716, 778,  850,  778,  748,  1425, 1425, 1425,
    1425, 1425, 1425, 1425, 1425, 1425, 1425, 819,  819,  1716, 1716, 1716, 1188, 2048, 1585, 1561, 1503, 1700, 1399,
    1399, 1681, 1714, 762,  762,  1587, 1305, 2038, 1714, 1741, 1501, 1741, 1577, 1475, 1397, 1663, 1585, 2259, 1579,
    1483, 1485, 936,  748,  936,  1716, 1024, 1024, 1382, 1466, 1214, 1466, 1389, 891,  1466, 1458, 702,  702,  1362,
    702,  2134, 1458, 1407, 1466, 1466, 1010, 1219, 979,  1458, 1335, 1892, 1321, 1335, 1192, 1458, 748,  1458, 1716,
    713,  934,  1425, 1425, 1303, 1425, 748,  1024, 1024, 2048, 1155, 1323, 1716, 850,  2048, 1024, 1024, 1716, 897,
    897,  1024, 1507, 1303, 778,  1024, 897,  1155, 1323, 2120, 2120, 2120, 1188, 1585, 1585, 1585, 1585, 1585, 1585,
    2222, 1503, 1399, 1399, 1399, 1399, 762,  762,  762,  762,  1716, 1714, 1741, 1741, 1741, 1741, 1741, 1716, 1741,
    1663, 1663, 1663, 1663, 1483, 1511, 1473, 1382, 1382, 1382, 1382, 1382, 1382, 2146, 1214, 1389, 1389, 1389, 1389,
    702,  702,  702,  702,  1407, 1458, 1407, 1407, 1407, 1407, 1407, 1716, 1407, 1458, 1458, 1458, 1458, 1335, 1466,
    1335, 1585, 1382, 1585, 1382, 1585, 1382, 1503, 1214, 1503, 1214, 1503, 1214, 1503, 1214, 1700, 1466, 1716, 1466,
    1399, 1389, 1399, 1389, 1399, 1389, 1399, 1389, 1399, 1389, 1681, 1466, 1681, 1466, 1681, 1466, 1681, 1466, 1714,
    1458, 1994, 1618, 762,  702,  762,  702,  762,  702,  762,  702,  762,  702,  1524, 1404, 762,  702,  1587, 1362,
    1362, 1305, 702,  1305, 702,  1305, 982,  1305, 1140, 1315, 760,  1714, 1458, 1714, 1458, 1714, 1458, 2013, 1714,
    1458, 1741, 1407, 1741, 1407, 1741, 1407, 2390, 2241, 1577, 1010, 1577, 1010, 1577, 1010, 1475, 1219, 1475, 1219,
    1475, 1219, 1475, 1219, 1397, 979,  1397, 979,  1397, 979,  1663, 1458, 1663, 1458, 1663, 1458, 1663, 1458, 1663,
    1458, 1663, 1458, 2259, 1892, 1483, 1335, 1483, 1485, 1192, 1485, 1192, 1485, 1192, 891,
};

struct Other {
  char32_t code;
  std::uint16_t regular;
  std::uint16_t bold;
};
constexpr Other kOthers[] = {
    {0x03a9, 1565, 1741}, {0x03bc, 1303, 1507}, {0x2009, 409, 409},   {0x2013, 1024, 1024}, {0x2014, 2048, 2048},
    {0x2018, 651, 778},   {0x2019, 651, 778},   {0x201c, 1061, 1346}, {0x201d, 1061, 1346}, {0x2022, 1208, 1309},
    {0x2026, 2048, 2048}, {0x2082, 821, 897},   {0x20ac, 1303, 1425}, {0x2190, 1716, 1716}, {0x2191, 1716, 1716},
    {0x2192, 1716, 1716}, {0x2193, 1716, 1716}, {0x2212, 1716, 1716}, {0x2248, 1716, 1716}, {0x2264, 1716, 1716},
    {0x2265, 1716, 1716}, {0x2610, 1836, 1836}, {0x2611, 1836, 1836}, {0x2713, 1716, 1716}, {0x26a0, 1836, 1836},
    {0x25a1, 1935, 1935}, {0x25cf, 1787, 1787}, {0x25cb, 1787, 1787},
};

constexpr double kEm = 2048.0;

double advance(char32_t code, bool bold) {
  const Widths& widths = bold ? kBold : kRegular;
  if (code >= 0x20 && code <= 0x7e) return widths[code - 0x20];
  if (code >= 0xa0 && code <= 0x17f) return widths[code - 0xa0 + 0x5f];
  for (const Other& other : kOthers) {
    if (other.code == code) return bold ? other.bold : other.regular;
  }
  return kEm;
}

// The character that begins at `at`, which moves past it; broken bytes count one each.
char32_t next(std::string_view utf8, std::size_t& at) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(utf8[i]); };
  const unsigned char lead = byte(at++);
  const int more = lead >= 0xf0 ? 3 : lead >= 0xe0 ? 2 : lead >= 0xc0 ? 1 : 0;
  char32_t code = more == 3 ? lead & 0x07U : more == 2 ? lead & 0x0fU : more == 1 ? lead & 0x1fU : lead;
  for (int k = 0; k < more && at < utf8.size() && (byte(at) & 0xc0U) == 0x80U; ++k)
    code = code << 6U | (byte(at++) & 0x3fU);
  return code;
}

}  // namespace

double text_width(std::string_view utf8, double size, bool bold) {
  double units = 0.0;
  for (std::size_t at = 0; at < utf8.size();) units += advance(next(utf8, at), bold);
  return units / kEm * size;
}

std::string fitted(std::string_view utf8, double width, double size, bool bold) {
  if (text_width(utf8, size, bold) <= width) return std::string(utf8);
  const double room = width - text_width("\u2026", size, bold);
  double used = 0.0;
  std::size_t kept = 0;
  for (std::size_t at = 0; at < utf8.size();) {
    used += advance(next(utf8, at), bold) / kEm * size;
    if (used > room) break;
    kept = at;
  }
  while (kept > 0 && utf8[kept - 1] == ' ') --kept;
  return std::string(utf8.substr(0, kept)) + "\u2026";
}

namespace {

// Bytes of a word that go onto a line of `width`: as many as fit, to the last mark that ends a part of a name where one
// stands in the second half of them; at least one character.
std::size_t part_that_fits(std::string_view word, double width, double size, bool bold) {
  double used = 0.0;
  std::size_t kept = 0;
  std::size_t mark = 0;
  for (std::size_t at = 0; at < word.size();) {
    const char c = word[at];
    used += advance(next(word, at), bold) / kEm * size;
    if (used > width && kept > 0) break;
    kept = at;
    if (c == '-' || c == '_' || c == '/' || c == '.') mark = at;
  }
  return 2 * mark > kept ? mark : kept;
}

}  // namespace

std::vector<std::string> wrapped(std::string_view utf8, double width, double size, bool bold) {
  std::vector<std::string> lines;
  std::string line;
  std::size_t at = 0;
  while (at < utf8.size()) {
    while (at < utf8.size() && utf8[at] == ' ') ++at;
    std::size_t end = utf8.find(' ', at);
    if (end == std::string_view::npos) end = utf8.size();
    if (end == at) break;
    std::string word(utf8.substr(at, end - at));
    const std::string longer = line.empty() ? word : line + " " + word;
    if (text_width(longer, size, bold) <= width) {
      line = longer;
    } else {
      if (!line.empty()) lines.push_back(line);
      while (text_width(word, size, bold) > width) {
        const std::size_t part = part_that_fits(word, width, size, bold);
        if (part >= word.size()) break;
        lines.push_back(word.substr(0, part));
        word.erase(0, part);
      }
      line = word;
    }
    at = end;
  }
  if (!line.empty()) lines.push_back(line);
  return lines;
}

}  // namespace tillwrap::drawing
