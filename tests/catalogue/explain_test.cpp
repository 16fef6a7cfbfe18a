// The catalogue in words: 80 columns, every number with its source; the JSON form against its schema.
#include "catalogue/explain.hpp"

#include <gtest/gtest.h>

#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "catalogue/lists.hpp"
#include "catalogue/wording.hpp"

namespace {

using namespace tillwrap::catalogue;

std::vector<std::string> all_names() {
  std::vector<std::string> out = {""};
  for_each_list(builtin(), [&](const ListName& name, const auto& list) {
    out.emplace_back(name.plural);
    for (const Entry& entry : list) out.push_back(entry.id);
  });
  return out;
}

TEST(Explain, FitsEightyColumns) {
  for (const std::string& what : all_names()) {
    const auto text = explain(builtin(), what);
    ASSERT_TRUE(text) << what;
    std::istringstream lines(*text);
    for (std::string line; std::getline(lines, line);) {
      EXPECT_LE(width(line), kColumns) << what << ": " << line;
      EXPECT_TRUE(line.empty() || line.back() != ' ') << what << ": " << line;
    }
  }
}

TEST(Explain, EveryNumberPointsToASource) {
  for_each_list(builtin(), [](const ListName&, const auto& list) {
    for (const Entry& entry : list) {
      const std::string text = *explain(builtin(), entry.id);
      const std::size_t sources = text.find("\nWhere the numbers come from\n");
      ASSERT_NE(sources, std::string::npos) << entry.id;
      // Every footnote used above is written below.
      for (int n = 1; n < 20; ++n) {
        const std::string mark = "[" + std::to_string(n) + "]";
        const bool used = text.substr(0, sources).find(mark) != std::string::npos;
        const bool told = text.substr(sources).find("  " + mark + " ") != std::string::npos;
        EXPECT_EQ(used, told) << entry.id << " " << mark;
      }
      for (const auto& [key, own] : entry.own_provenance) {
        std::string flat = text.substr(sources);
        for (std::size_t at = flat.find("\n       "); at != std::string::npos; at = flat.find("\n       "))
          flat.replace(at, 8, " ");
        EXPECT_NE(flat.find(own.source), std::string::npos) << entry.id << " " << key;
      }
    }
  });
}

TEST(Explain, OnePackInFull) {
  const std::string text = *explain(builtin(), "smart-pack-14v4-98wh");
  EXPECT_TRUE(text.starts_with("smart-pack-14v4-98wh: 14.4 V smart pack, 98 Wh\n  pack\n")) << text;
  EXPECT_NE(text.find("  rated charge            6.8 Ah ["), std::string::npos) << text;
  EXPECT_NE(text.find("  electronics             45 mohm ["), std::string::npos) << text;
  EXPECT_NE(text.find("  goes into               cup-smart-14v4 ["), std::string::npos) << text;
  EXPECT_NE(text.find("from memory: pack electronics and contacts 20 to 60 mohm"), std::string::npos) << text;
  EXPECT_NE(explain(builtin(), "awg-22")->find("52.96 ohm/km"), std::string::npos);
  // An alias finds the entry, the singular its list.
  EXPECT_EQ(explain(builtin(), "sled-8aa-nimh"), explain(builtin(), "aa-nimh-x8"));
  EXPECT_EQ(explain(builtin(), "pack"), explain(builtin(), "packs"));
}

TEST(Explain, UnknownNames) {
  EXPECT_FALSE(explain(builtin(), "elephant"));
  EXPECT_FALSE(explain_json(builtin(), "elephant"));
  EXPECT_EQ(unknown_words(builtin(), "pakcs"),
            "the catalogue has no \"pakcs\"; did you mean \"packs\"? see the lists with: tillwrap catalogue");
  EXPECT_EQ(unknown_words(builtin(), "elephant"),
            "the catalogue has no \"elephant\"; see the lists with: tillwrap catalogue");
}

TEST(Explain, WrappingKeepsNumberAndUnitTogether) {
  EXPECT_EQ(wrapped("aa bb cc", "> ", 2, 7), "> aa bb\n  cc\n");
  EXPECT_EQ(wrapped("aaa 3\xC2\xA0V", "", 1, 6), "aaa\n 3 V\n");
  EXPECT_EQ(wrapped("", "x", 1, 6), "x\n");
}

TEST(Explain, JsonFollowsItsSchema) {
  // JSON Schema 2020-12, checked by the Python reference library.
  const std::string folder = ::testing::TempDir() + "tillwrap-catalogue-json";
  std::string files;
  int number = 0;
  std::vector<std::string> names = kind_names();
  names.emplace_back("");
  names.emplace_back("smart-pack-14v4-98wh");
  for (const std::string& what : names) {
    const std::string path = folder + std::to_string(number++) + ".json";
    std::ofstream(path) << *explain_json(builtin(), what);
    files += " " + path;
  }
  const std::string command = std::string(TILLWRAP_PYTHON) +
                              " -c 'import json, sys, jsonschema\n"
                              "schema = json.load(open(sys.argv[1]))\n"
                              "jsonschema.Draft202012Validator.check_schema(schema)\n"
                              "for f in sys.argv[2:]: jsonschema.validate(json.load(open(f)), schema)\n"
                              "bad = json.load(open(sys.argv[-1])); del bad[\"entry\"][\"provenance\"]\n"
                              "assert not jsonschema.Draft202012Validator(schema).is_valid(bad)' " +
                              TILLWRAP_SOURCE_DIR "/schema/catalogue.schema.json" + files;
  EXPECT_EQ(std::system(command.c_str()), 0);
  for (int i = 0; i < number; ++i) std::remove((folder + std::to_string(i) + ".json").c_str());
}

}  // namespace
