#include "record/digest.hpp"

#include <doctest/doctest.h>

using namespace vacuary::record;

TEST_CASE("SHA-256 and SHA-512 of the examples of FIPS 180-4") {
  CHECK(sha256_hex("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  CHECK(sha256_hex("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq") ==
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
  Hasher sha512(Algorithm::sha512);
  sha512.add("abc");
  CHECK(sha512.hex() ==
        "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a"
        "2192992a274fc1a836ba3c23a3feebbd454d4423643ce80e2a9ac94fa54ca49f");
}

TEST_CASE("a million times 'a', in uneven pieces, is the third example of FIPS 180-4") {
  Hasher hasher(Algorithm::sha256);
  std::size_t done = 0;
  for (std::size_t piece = 1; done < 1'000'000; piece = piece * 3 + 1) {
    const std::size_t now = std::min<std::size_t>(piece, 1'000'000 - done);
    hasher.add(std::string(now, 'a'));
    done += now;
  }
  CHECK(hasher.hex() == "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}

TEST_CASE("a hasher starts anew after its result") {
  Hasher hasher(Algorithm::sha256);
  hasher.add("xyz");
  (void)hasher.hex();
  hasher.add("abc");
  CHECK(hasher.hex() == sha256_hex("abc"));
}
