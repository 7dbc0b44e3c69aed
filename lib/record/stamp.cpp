#include "record/stamp.hpp"

#include <fmt/format.h>
#include <openssl/bio.h>
#include <openssl/err.h>
#include <openssl/ts.h>
#include <openssl/x509_vfy.h>

#include <array>
#include <ctime>
#include <memory>

#include "record/digest.hpp"
#include "record/lines.hpp"

namespace vacuary::record {
namespace {

template <class T, void (*free_it)(T*)>
struct Free {
  void operator()(T* pointer) const { free_it(pointer); }
};
template <class T, void (*free_it)(T*)>
using Owned = std::unique_ptr<T, Free<T, free_it>>;

Diagnostic fault(const std::string& file, const char* rule, std::string message) {
  return file_fault(file, rule, std::move(message), "ask the time-stamping authority again");
}

std::string openssl_says() {
  const char* reason = nullptr;
  while (const unsigned long code = ERR_get_error()) {
    if (const char* text = ERR_reason_error_string(code)) reason = text;
  }
  return reason == nullptr ? "no reason given" : reason;
}

bool is_strong_hash(const X509_ALGOR* algorithm) {
  const ASN1_OBJECT* object = nullptr;
  X509_ALGOR_get0(&object, nullptr, nullptr, algorithm);
  const int nid = OBJ_obj2nid(object);
  return nid == NID_sha256 || nid == NID_sha384 || nid == NID_sha512;
}

// Whole seconds; false when the stamp's time is no time, or lies outside what an Instant holds (1677 to
// 2262; the stamp's own form goes on to the year 9999).
bool time_of(TS_TST_INFO* info, Instant& instant) {
  std::tm parts{};
  if (info == nullptr || ASN1_TIME_to_tm(TS_TST_INFO_get_time(info), &parts) != 1) return false;
  const std::int64_t seconds = ::timegm(&parts);
  return !__builtin_mul_overflow(seconds, std::int64_t{1'000'000'000}, &instant.ns);
}

}  // namespace

Result<std::string> stamp_request(std::string_view bytes) {
  Hasher hasher(Algorithm::sha256);
  hasher.add(bytes);
  std::string digest = hasher.bytes();
  const Owned<TS_REQ, TS_REQ_free> request(TS_REQ_new());
  const Owned<TS_MSG_IMPRINT, TS_MSG_IMPRINT_free> imprint(TS_MSG_IMPRINT_new());
  const Owned<X509_ALGOR, X509_ALGOR_free> algorithm(X509_ALGOR_new());
  unsigned char* der = nullptr;
  int length = -1;
  if (request && imprint && algorithm && TS_REQ_set_version(request.get(), 1) == 1 &&
      X509_ALGOR_set0(algorithm.get(), OBJ_nid2obj(NID_sha256), V_ASN1_NULL, nullptr) == 1 &&
      TS_MSG_IMPRINT_set_algo(imprint.get(), algorithm.get()) == 1 &&
      TS_MSG_IMPRINT_set_msg(imprint.get(), reinterpret_cast<unsigned char*>(digest.data()),
                             static_cast<int>(digest.size())) == 1 &&
      TS_REQ_set_msg_imprint(request.get(), imprint.get()) == 1 &&
      TS_REQ_set_cert_req(request.get(), 1) == 1) {
    length = i2d_TS_REQ(request.get(), &der);
  }
  if (length <= 0)
    return fault("", "stamp-form", fmt::format("the request could not be made: {}", openssl_says()));
  std::string out(reinterpret_cast<char*>(der), static_cast<std::size_t>(length));
  OPENSSL_free(der);
  return out;
}

Result<Instant> check_stamp(const std::string& file, std::string_view response, std::string_view bytes,
                            const std::string& ca_file) {
  ERR_clear_error();
  const auto* from = reinterpret_cast<const unsigned char*>(response.data());
  const unsigned char* const end = from + response.size();
  const Owned<TS_RESP, TS_RESP_free> answer(d2i_TS_RESP(nullptr, &from, static_cast<long>(response.size())));
  if (!answer || from != end)
    return fault(file, "stamp-form", "this is not an RFC 3161 response and nothing else");
  TS_TST_INFO* info = TS_RESP_get_tst_info(answer.get());
  Instant instant;
  if (!time_of(info, instant))
    return fault(file, "stamp-refused",
                 "the authority's answer holds no time stamp of a time between 1678 and 2262");
  if (!is_strong_hash(TS_MSG_IMPRINT_get_algo(TS_TST_INFO_get_msg_imprint(info)))) {
    return fault(file, "stamp-weak", "the stamp's hash is none of SHA-256, SHA-384 and SHA-512");
  }
  // Given to the context below, which frees them.
  X509_STORE* store = X509_STORE_new();
  BIO* data = BIO_new_mem_buf(bytes.data(), static_cast<int>(bytes.size()));
  const Owned<TS_VERIFY_CTX, TS_VERIFY_CTX_free> context(TS_VERIFY_CTX_new());
  TS_VERIFY_CTX_set_store(context.get(), store);
  TS_VERIFY_CTX_set_data(context.get(), data);
  TS_VERIFY_CTX_set_flags(context.get(), TS_VFY_VERSION | TS_VFY_SIGNATURE | TS_VFY_DATA);
  X509_VERIFY_PARAM_set_time(X509_STORE_get0_param(store),
                             static_cast<std::time_t>(instant.ns / 1'000'000'000));
  if (X509_STORE_load_file(store, ca_file.c_str()) != 1) {
    return file_fault(ca_file, "stamp-bad", "the authorities' certificates cannot be read",
                      "name a file of PEM certificates");
  }
  if (TS_RESP_verify_response(context.get(), answer.get()) != 1) {
    return fault(file, "stamp-bad", fmt::format("the time stamp does not verify: {}", openssl_says()));
  }
  return instant;
}

}  // namespace vacuary::record
