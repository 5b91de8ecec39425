// Every function of the layer's headers must be tested against something, and every table must say where it
// is from.
#include <cctype>
#include <filesystem>
#include <set>

#include "color/published_test.h"

namespace samelight::color {
namespace {

const std::string kSource = SAMELIGHT_SOURCE_DIR;
const std::string kTables = kSource + "/tests/published/";

std::string Whole(const std::filesystem::path& path) {
  std::ifstream file(path);
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

// The function that a line of a header declares, if it starts at the margin; else empty.
std::string DeclaredIn(const std::string& line) {
  if (line.empty() || !std::isalpha(static_cast<unsigned char>(line[0]))) return "";
  const std::size_t end = line.find('(');
  if (end == std::string::npos) return "";
  std::size_t begin = end;
  while (begin > 0 && std::isalnum(static_cast<unsigned char>(line[begin - 1]))) --begin;
  return begin > 0 && std::isupper(static_cast<unsigned char>(line[begin])) ? line.substr(begin, end - begin)
                                                                            : "";
}

std::set<std::string> Declared() {
  std::set<std::string> names;
  for (const auto& entry : std::filesystem::directory_iterator(kSource + "/src/color")) {
    if (entry.path().extension() != ".h" || entry.path().stem().string().ends_with("_test")) continue;
    std::istringstream text(Whole(entry.path()));
    for (std::string line; std::getline(text, line);) {
      const std::string name = DeclaredIn(line);
      if (!name.empty()) names.insert(name);
    }
  }
  return names;
}

std::set<std::string> RegisteredTests() {
  std::set<std::string> names;
  const auto& unit = *::testing::UnitTest::GetInstance();
  for (int s = 0; s < unit.total_test_suite_count(); ++s) {
    const auto& suite = *unit.GetTestSuite(s);
    for (int t = 0; t < suite.total_test_count(); ++t)
      names.insert(std::string(suite.name()) + "." + suite.GetTestInfo(t)->name());
  }
  return names;
}

TEST(Coverage, EveryFunctionHasALineAndEveryLineIsTrue) {
  const auto declared = Declared(), tests = RegisteredTests();
  ASSERT_GT(declared.size(), 30u);  // they are still found
  std::set<std::string> covered;
  for (const Row& row : ReadTable(kTables + "coverage.csv")) {
    covered.insert(row.Text("function"));
    EXPECT_TRUE(declared.contains(row.Text("function"))) << "no such function: " << row.Text("function");
    EXPECT_TRUE(tests.contains(row.Text("test"))) << "no such test: " << row.Text("test");
    if (row.Text("table") != "-") {
      EXPECT_TRUE(std::filesystem::exists(kTables + row.Text("table"))) << row.Text("table");
    }
  }
  for (const std::string& name : declared)
    EXPECT_TRUE(covered.contains(name)) << name << " has no line in tests/published/coverage.csv";
}

TEST(Coverage, EveryTableNamesItsSource) {
  const std::string readme = Whole(kTables + "README.md");
  for (const auto& entry : std::filesystem::directory_iterator(kTables)) {
    const std::string name = entry.path().filename();
    if (entry.path().extension() == ".csv") {
      EXPECT_NE(readme.find("`" + name + "`"), std::string::npos)
          << name << " is not in tests/published/README.md";
    }
  }
}

}  // namespace
}  // namespace samelight::color
