// RFC 3161 time stamps, through OpenSSL. Without one, every time in a record is only claimed.
#pragma once

#include <string>
#include <string_view>

#include "base/result.hpp"
#include "base/time.hpp"

namespace vacuary::record {

// The DER bytes to send to a time-stamping authority (Content-Type: application/timestamp-query); it
// holds the SHA-256 of `bytes`, not the bytes. Sending it is left to the user: nothing here uses a
// network.
[[nodiscard]] Result<std::string> stamp_request(std::string_view bytes);

// The time at which the authority saw `bytes`, to the second. `response`: DER bytes of its answer.
// `ca_file`: PEM certificates of the authorities that are trusted. Certificates are judged at the time
// in the stamp, not today: an authority's certificate ends long before a record does. That they
// were not revoked is not checked.
// Rules of failures: stamp-form, stamp-refused, stamp-bad, stamp-weak.
[[nodiscard]] Result<Instant> check_stamp(const std::string& file, std::string_view response,
                                          std::string_view bytes, const std::string& ca_file);

}  // namespace vacuary::record
