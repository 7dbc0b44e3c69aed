// Damage is normal input: a plan file cut short or with a byte changed is a plan or a complaint with
// a place, never a crash, and never a plan with an error in it.
#include <doctest/doctest.h>

#include <random>
#include <string_view>

#include "plan/files.hpp"

using namespace vacuary;

namespace {

void must_be_told(const std::string& name, const std::string& text) {
  const Diagnostics said = plan_files::load(name, text);
  for (const Diagnostic& d : said) {
    const bool told = !d.message.empty() && !d.rule.empty() && d.where.has_value();
    if (!told) {
      INFO(name << ": " << to_text(d));
      CHECK(told);
    }
  }
}

std::string sample(const char* file) { return plan_files::bytes_of(plan_files::sample_folder() / file); }

}  // namespace

TEST_CASE("the sample recipe cut at every length") {
  const std::string whole = sample("aluminium-90nm.toml");
  REQUIRE(whole.size() > 1000);
  for (std::size_t n = 0; n < whole.size(); ++n) {
    const Diagnostics said = plan_files::load("recipe-cut.toml", whole.substr(0, n));
    // Cut inside the last step, the recipe is whole only once that step is.
    const std::size_t last_step = whole.rfind("[[step]]");
    if (n + 1 < last_step && whole[n] != '\n' && n > 0 && whole[n - 1] != '\n') {
      must_be_told("recipe-cut.toml", whole.substr(0, n));
    }
    if (n < whole.find("[[step]]")) {
      INFO(n);
      CHECK(has_errors(said));
    }
  }
}

TEST_CASE("bytes of every sample file changed") {
  std::mt19937 random(20310304);  // NOLINT(cert-msc51-cpp): the same damage on every run
  const std::pair<const char*, const char*> files[] = {{"recipe-damaged.toml", "aluminium-90nm.toml"},
                                                       {"chamber-damaged.toml", "chamber.toml"},
                                                       {"optic-damaged.toml", "primary.toml"},
                                                       {"channels-damaged.toml", "channels.toml"}};
  for (const auto& file : files) {
    const std::string whole = sample(file.second);
    for (int n = 0; n < 300; ++n) {
      std::string text = whole;
      for (auto hits = 1 + random() % 3; hits > 0; --hits) {
        const std::string_view marks = "[]{}\"'=.,#\n-09";
        const char hit =
            random() % 4 == 0 ? static_cast<char>(random() % 256) : marks[random() % marks.size()];
        text[random() % text.size()] = hit;
      }
      must_be_told(file.first, text);
    }
  }
}

TEST_CASE("hostile files end soon, with few complaints") {
  const std::string head = "format = \"vacuary-recipe 1\"\n";
  std::string many_keys = head;
  for (int n = 0; n < 50'000; ++n) many_keys += "k" + std::to_string(n) + " = 1\n";
  std::string wide = head + "sign = [";
  for (int n = 0; n < 200'000; ++n) wide += "1,";
  std::string deep = head + "x = ";
  for (int n = 0; n < 100'000; ++n) deep += "{a=[";
  std::string dotted = "a";
  for (int n = 0; n < 500'000; ++n) dotted += ".a";
  for (const std::string& text :
       {many_keys, wide + "]\n", wide, deep, dotted + " = 1\n", "[" + dotted + "]\n",
        "x = \"" + std::string(1'000'000, 'a') + "\"\n", std::string(1'000'000, '[')}) {
    const Diagnostics said = plan_files::load("recipe-hostile.toml", text);
    CHECK(has_errors(said));
    CHECK(said.size() < 300);
  }
}
