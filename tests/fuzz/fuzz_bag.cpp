// Any bytes as each text file of a bag: no crash, and no path comes out that leads outside.
#include <cstdint>
#include <cstdlib>
#include <string>
#include <string_view>

#include "base/files.hpp"
#include "record/record.hpp"

namespace {

using namespace vacuary;
using namespace vacuary::record;

void require(bool holds) {
  if (!holds) std::abort();
}

void check_path(const std::string& path) {
  require(!path.empty() && path.front() != '/' && path.find('\0') == std::string::npos);
  require(("/" + path + "/").find("/../") == std::string::npos);
}

void check_said(const Diagnostics& said) {
  for (const Diagnostic& d : said) require(!d.rule.empty() && !d.message.empty() && !to_text(d).empty());
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view bytes(reinterpret_cast<const char*>(data), size);
  check_said(parse_declaration("bagit.txt", bytes).diagnostics());
  for (const ManifestOf of : {ManifestOf::payload, ManifestOf::tags}) {
    const auto lines = parse_manifest("manifest-sha256.txt", bytes, Algorithm::sha256, of);
    check_said(lines.diagnostics());
    for (const ManifestLine& line : lines.value()) {
      check_path(line.path);
      require((line.path.rfind("data/", 0) == 0) == (of == ManifestOf::payload));
      require(line.checksum.size() == hex_length(Algorithm::sha256));
    }
  }
  check_said(parse_info("bag-info.txt", bytes).diagnostics());
  const auto fetches = parse_fetch("fetch.txt", bytes);
  check_said(fetches.diagnostics());
  for (const FetchLine& fetch : fetches.value()) check_path(fetch.path);
  for (const char* encoding : {"UTF-8", "UTF-16", "ISO-8859-1", "US-ASCII", "UTF-16BE"}) {
    const auto text = decode_text("x", bytes, encoding);
    require(text.has_value() || !text.diagnostics().empty());
    if (text.has_value()) require(first_invalid_utf8(text.value()) == std::string::npos);
  }
  return 0;
}
