// Checksums of byte streams. The arithmetic is libcrypto's, which uses the processor's SHA
// instructions where there are any; no libcrypto type leaves the room.
//
// SHA-256 and SHA-512 (FIPS 180-4) are what a record rests on. MD5 and SHA-1 are only here to read
// bags that others made: they show accidents, not forgery.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <string_view>

namespace vacuary::record {

enum class Algorithm { md5, sha1, sha224, sha256, sha384, sha512 };

// The name as in a manifest's file name: "sha256".
[[nodiscard]] const char* name(Algorithm algorithm);
[[nodiscard]] std::optional<Algorithm> algorithm_of(std::string_view name);
[[nodiscard]] std::size_t hex_length(Algorithm algorithm);
// Nobody can make a second text with the same checksum, as far as is publicly known.
[[nodiscard]] bool is_strong(Algorithm algorithm);

class Hasher {
 public:
  explicit Hasher(Algorithm algorithm);
  Hasher(Hasher&&) noexcept;
  Hasher& operator=(Hasher&&) noexcept;
  ~Hasher();

  void add(std::string_view bytes);
  // The checksum of all that was added, in lower-case hex or as bytes; the hasher then starts anew.
  [[nodiscard]] std::string hex();
  [[nodiscard]] std::string bytes();
  // The checksum up to here, in hex; more may be added after it.
  [[nodiscard]] std::string so_far() const;

 private:
  struct Context;
  std::unique_ptr<Context> context_;
};

[[nodiscard]] std::string sha256_hex(std::string_view bytes);
[[nodiscard]] std::string to_hex(std::string_view bytes);

}  // namespace vacuary::record
