// Memory does not grow with the log, nor with what is odd in it.
#include <fmt/format.h>
#include <sys/resource.h>

#include <fstream>

#include "log/support.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

std::filesystem::path make(const std::string& name, int rows) {
  const auto path = write(name, "time,ion.pressure [Pa],argon.flow [sccm],run.step\n");
  std::ofstream out(path, std::ios::binary | std::ios::app);
  std::string text;
  for (int i = 0; i < rows; ++i) {
    text += to_rfc3339(Instant{1930367167'000'000'000 + i * std::int64_t{100'000'000}});
    text += i % 3 == 0 ? ",1.25e-4,,film\n" : i % 3 == 1 ? ",x,250.5,\"film\"\n" : ",1,2\n";
    if (text.size() > 1U << 20U) {
      out << text;
      text.clear();
    }
  }
  out << text;
  return path;
}

long read_through(const std::filesystem::path& path, std::uint64_t& rows) {
  Options options;
  options.threads = 1;  // how many of their buffers several threads come to use is a matter of chance
  auto opened = Reader::open({path}, {}, options);
  REQUIRE(opened.ok());
  Reader reader = std::move(opened).value();
  while (reader.next() != nullptr) {
  }
  rows = reader.tally().rows;
  CHECK(reader.tally().first.size() <= 20 * static_cast<std::size_t>(Oddity::count_));
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  return usage.ru_maxrss / 1024;
}

// The address sanitizer keeps what was freed, up to a quarter of a gibibyte, to see it used again.
#if defined(__has_feature)
#if __has_feature(address_sanitizer)
#define VACUARY_FREED_MEMORY_IS_KEPT
#endif
#endif
#if defined(VACUARY_FREED_MEMORY_IS_KEPT) || defined(__SANITIZE_ADDRESS__)
constexpr bool freed_memory_is_kept = true;
#else
constexpr bool freed_memory_is_kept = false;
#endif

}  // namespace

TEST_CASE("a log eight times as long needs no more memory" * doctest::skip(freed_memory_is_kept)) {
  std::uint64_t rows = 0;
  const long small = read_through(make("small.csv", 100'000), rows);
  CHECK(rows == 66'667);
  const long large = read_through(make("large.csv", 800'000), rows);
  CHECK(rows == 533'334);
  CHECK(large <= small + 8);  // MiB
}
