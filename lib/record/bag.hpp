// BagIt 1.0 (RFC 8493): the layout of a run folder, and of any bag somebody else made.
//
//   bagit.txt, bag-info.txt            what this is
//   manifest-sha256.txt                checksum and path of every file under data/
//   tagmanifest-sha256.txt             the same for the files around it
//   data/...                           the payload
//
// Reading parses bytes from strangers: the parsers take bytes and return values, and are fuzzed.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "base/result.hpp"
#include "record/digest.hpp"
#include "record/disk.hpp"

namespace vacuary::record {

// Larger tag files are refused: they are lists, and a hostile one must not fill the memory.
inline constexpr std::size_t largest_tag_file = std::size_t{64} << 20U;

// ---------------------------------------------------------------- the texts of a bag

struct BagDeclaration {
  std::string version;   // "1.0"
  std::string encoding;  // of the other tag files, as written
};
// bagit.txt: exactly two lines, UTF-8 without a byte-order mark, no stray blanks (section 2.1.1).
[[nodiscard]] Result<BagDeclaration> parse_declaration(const std::string& file, std::string_view bytes);

struct ManifestLine {
  std::string checksum;  // lower-case hex, of the algorithm's length
  std::string path;      // decoded: %0A, %0D and %25 are the only escapes
  std::uint64_t line = 0;
};
enum class ManifestOf { payload, tags };
// Refuses paths that are unsafe, outside data/ (payload) or listed before. Returns the good lines
// and a diagnostic for each bad one.
[[nodiscard]] Result<std::vector<ManifestLine>> parse_manifest(const std::string& file, std::string_view text,
                                                               Algorithm algorithm, ManifestOf of);

using Info = std::vector<std::pair<std::string, std::string>>;  // in file order, continuations joined
[[nodiscard]] Result<Info> parse_info(const std::string& file, std::string_view text);

struct FetchLine {
  std::string url;
  std::string path;
};
[[nodiscard]] Result<std::vector<FetchLine>> parse_fetch(const std::string& file, std::string_view text);

// Text in one of the encodings a bag may name (UTF-8, US-ASCII, ISO-8859-1, UTF-16, UTF-16LE,
// UTF-16BE) as UTF-8, without a byte-order mark.
[[nodiscard]] Result<std::string> decode_text(const std::string& file, std::string_view bytes,
                                              const std::string& encoding);

// Why a path from a manifest must not be used (absolute, "..", empty parts, control characters, ...),
// or an empty string.
[[nodiscard]] std::string unsafe_path_reason(std::string_view path);

// ---------------------------------------------------------------- a bag on a disk

struct BagFile {
  std::string path;  // from the bag's folder
  std::uint64_t octets = 0;
  std::string sha256;  // empty when no SHA-256 manifest lists it
};

struct Bag {
  BagDeclaration declaration;
  std::vector<Algorithm> algorithms;  // of the payload manifests that could be used
  std::vector<BagFile> files;         // payload, by path
  std::uint64_t octets = 0;           // of the payload
  Info info;
  std::string tagmanifest_sha256;  // checksum of tagmanifest-sha256.txt itself, or empty
  // Files outside data/ that no tag manifest proves, tag manifests themselves aside.
  std::vector<std::string> unproved;

  // The first value under this label (labels ignore case), or empty.
  [[nodiscard]] std::string about(std::string_view label) const;
  [[nodiscard]] std::vector<std::string> all_about(std::string_view label) const;
};

// Reads every byte and says everything that is wrong. Fails when there is no bag to speak of;
// otherwise returns the bag with its faults, each an error whose rule names it:
//   bag-declaration, bag-without-payload, bag-without-manifest, manifest-line, tag-file-line,
//   unsafe-path, listed-twice, payload-missing, payload-unlisted, payload-changed, tag-file-missing,
//   tag-file-changed, payload-oxum, not-fetched, link-in-bag, odd-file-in-bag, weak-checksum
// Memory does not grow with the size of the files. Nothing is written, no link is followed.
[[nodiscard]] Result<Bag> verify_bag(const std::string& folder, Disk& disk = real_disk());

// The same without reading the payload: what the tag files say, and whether what they list is there. For
// indexes and listings; it proves nothing about the payload's bytes.
[[nodiscard]] Result<Bag> survey_bag(const std::string& folder, Disk& disk = real_disk());

}  // namespace vacuary::record
