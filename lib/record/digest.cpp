#include "record/digest.hpp"

#include <openssl/evp.h>

#include <array>
#include <stdexcept>

namespace vacuary::record {
namespace {

struct Known {
  Algorithm algorithm;
  const char* name;
  const char* library_name;
  std::size_t hex_length;
};

constexpr std::array<Known, 6> known = {{{Algorithm::md5, "md5", "MD5", 32},
                                         {Algorithm::sha1, "sha1", "SHA1", 40},
                                         {Algorithm::sha224, "sha224", "SHA224", 56},
                                         {Algorithm::sha256, "sha256", "SHA256", 64},
                                         {Algorithm::sha384, "sha384", "SHA384", 96},
                                         {Algorithm::sha512, "sha512", "SHA512", 128}}};

const Known& entry(Algorithm algorithm) { return known.at(static_cast<std::size_t>(algorithm)); }

// Looking an algorithm up costs more than hashing a small file, so each is fetched once and kept.
const EVP_MD* method(Algorithm algorithm) {
  static const std::array<EVP_MD*, known.size()> methods = [] {
    std::array<EVP_MD*, known.size()> fetched{};
    for (std::size_t i = 0; i < known.size(); ++i) {
      fetched.at(i) = EVP_MD_fetch(nullptr, known.at(i).library_name, nullptr);
    }
    return fetched;
  }();
  return methods.at(static_cast<std::size_t>(algorithm));
}

void must(bool done) {
  if (!done) throw std::runtime_error("libcrypto could not compute a checksum");
}

}  // namespace

const char* name(Algorithm algorithm) { return entry(algorithm).name; }

std::optional<Algorithm> algorithm_of(std::string_view name) {
  for (const Known& k : known) {
    if (name == k.name) return k.algorithm;
  }
  return std::nullopt;
}

std::size_t hex_length(Algorithm algorithm) { return entry(algorithm).hex_length; }

bool is_strong(Algorithm algorithm) { return algorithm != Algorithm::md5 && algorithm != Algorithm::sha1; }

struct Hasher::Context {
  explicit Context(Algorithm wanted) : algorithm(wanted), context(EVP_MD_CTX_new()) {
    must(context != nullptr);
    start();
  }
  Context(const Context&) = delete;
  Context& operator=(const Context&) = delete;
  ~Context() { EVP_MD_CTX_free(context); }
  void start() {
    must(method(algorithm) != nullptr && EVP_DigestInit_ex2(context, method(algorithm), nullptr) == 1);
  }
  Algorithm algorithm;
  EVP_MD_CTX* context;
};

Hasher::Hasher(Algorithm algorithm) : context_(std::make_unique<Context>(algorithm)) {}
Hasher::Hasher(Hasher&&) noexcept = default;
Hasher& Hasher::operator=(Hasher&&) noexcept = default;
Hasher::~Hasher() = default;

void Hasher::add(std::string_view bytes) {
  must(EVP_DigestUpdate(context_->context, bytes.data(), bytes.size()) == 1);
}

std::string Hasher::bytes() {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int length = 0;
  must(EVP_DigestFinal_ex(context_->context, digest.data(), &length) == 1);
  context_->start();
  return {digest.begin(), digest.begin() + length};
}

std::string Hasher::so_far() const {
  const std::unique_ptr<EVP_MD_CTX, decltype(&EVP_MD_CTX_free)> copy(EVP_MD_CTX_new(), &EVP_MD_CTX_free);
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int length = 0;
  must(copy != nullptr && EVP_MD_CTX_copy_ex(copy.get(), context_->context) == 1 &&
       EVP_DigestFinal_ex(copy.get(), digest.data(), &length) == 1);
  return to_hex({reinterpret_cast<const char*>(digest.data()), length});
}

std::string Hasher::hex() { return to_hex(bytes()); }

std::string sha256_hex(std::string_view bytes) {
  Hasher hasher(Algorithm::sha256);
  hasher.add(bytes);
  return hasher.hex();
}

std::string to_hex(std::string_view bytes) {
  constexpr std::string_view digits = "0123456789abcdef";
  std::string out;
  out.reserve(bytes.size() * 2);
  for (const char ch : bytes) {
    const auto byte = static_cast<unsigned char>(ch);
    out += digits[byte >> 4U];
    out += digits[byte & 15U];
  }
  return out;
}

}  // namespace vacuary::record
