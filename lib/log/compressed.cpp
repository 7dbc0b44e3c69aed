#include "log/compressed.hpp"

#include <fmt/format.h>
#include <zlib.h>
#include <zstd.h>
#include <zstd_errors.h>

#include <algorithm>
#include <utility>
#include <vector>

namespace vacuary::log {
namespace {

class Unpacked : public ByteStream {
 public:
  Unpacked(std::filesystem::path path, std::unique_ptr<ByteStream> from, std::uint64_t limit)
      : path_(std::move(path)), from_(std::move(from)), limit_(limit), in_(65536) {}

  std::size_t read(char* out, std::size_t size) override {
    std::size_t got = 0;
    while (got < size && !done_ && !failure_) {
      if (used_ == filled_ && !from_ended_) refill();
      got += unpack(out + got, size - got);
      if (total_ + got > limit_) fail_at_limit();
    }
    total_ += got;
    return got;
  }
  [[nodiscard]] const std::optional<Diagnostic>& failure() const override { return failure_; }

 protected:
  // Unpacks from input() into `out`; says what was used by used(n). Sets done() at a clean end.
  virtual std::size_t unpack(char* out, std::size_t size) = 0;

  [[nodiscard]] const char* input() const { return in_.data() + used_; }
  [[nodiscard]] std::size_t input_size() const { return filled_ - used_; }
  [[nodiscard]] bool input_ended() const { return from_ended_; }
  void used(std::size_t n) { used_ += n; }
  void done() { done_ = true; }
  void fail(std::string message, std::string remedy) {
    if (from_->failure()) {
      failure_ = from_->failure();
    } else {
      failure_ = log_failure(path_, std::move(message), std::move(remedy));
    }
  }
  void fail_cut() {
    fail(
        "the compressed log ends in the middle of its data",
        "copy it again from where it came; if that is all there is, unpack what is left of it and read that");
  }
  void fail_damaged(const char* what) {
    fail(
        fmt::format("the compressed log is damaged ({})", what),
        "copy it again from where it came; if that is all there is, unpack what is left of it and read that");
  }

 private:
  void refill() {
    filled_ = from_->read(in_.data(), in_.size());
    used_ = 0;
    from_ended_ = filled_ < in_.size();
  }
  void fail_at_limit() {
    fail(fmt::format("the compressed log unpacks to more than {} bytes", limit_),
         "a log is not that long; check what the file is, or unpack and split it");
  }

  std::filesystem::path path_;
  std::unique_ptr<ByteStream> from_;
  std::uint64_t limit_, total_ = 0;
  std::vector<char> in_;
  std::size_t used_ = 0, filled_ = 0;
  bool from_ended_ = false, done_ = false;
  std::optional<Diagnostic> failure_;
};

class Gunzip final : public Unpacked {
 public:
  Gunzip(std::filesystem::path path, std::unique_ptr<ByteStream> from, std::uint64_t limit)
      : Unpacked(std::move(path), std::move(from), limit) {
    if (inflateInit2(&z_, 15 + 16) != Z_OK) fail("there is not enough memory to unpack the log", "");
  }
  Gunzip(const Gunzip&) = delete;
  Gunzip& operator=(const Gunzip&) = delete;
  ~Gunzip() override { inflateEnd(&z_); }

 protected:
  std::size_t unpack(char* out, std::size_t size) override {
    if (input_size() == 0 && input_ended()) {
      if (between_) {
        done();
      } else {
        fail_cut();
      }
      return 0;
    }
    if (between_ && *input() == '\0') {  // padding after the last member
      used(1);
      return 0;
    }
    size = std::min(size, std::size_t{1} << 30U);
    z_.next_in = reinterpret_cast<Bytef*>(const_cast<char*>(input()));  // NOLINT: zlib's old interface
    z_.avail_in = static_cast<uInt>(input_size());
    z_.next_out = reinterpret_cast<Bytef*>(out);
    z_.avail_out = static_cast<uInt>(size);
    between_ = false;
    const int status = inflate(&z_, Z_NO_FLUSH);
    used(input_size() - z_.avail_in);
    if (status == Z_STREAM_END) {
      between_ = true;
      inflateReset(&z_);
    } else if (status != Z_OK && status != Z_BUF_ERROR) {
      fail_damaged("its gzip data do not unpack");
    }
    return size - z_.avail_out;
  }

 private:
  z_stream z_{};
  bool between_ = false;
};

class Unzstd final : public Unpacked {
 public:
  Unzstd(std::filesystem::path path, std::unique_ptr<ByteStream> from, std::uint64_t limit)
      : Unpacked(std::move(path), std::move(from), limit), z_(ZSTD_createDCtx()) {
    if (z_ == nullptr) fail("there is not enough memory to unpack the log", "");
    ZSTD_DCtx_setParameter(z_, ZSTD_d_windowLogMax, 25);
  }
  Unzstd(const Unzstd&) = delete;
  Unzstd& operator=(const Unzstd&) = delete;
  ~Unzstd() override { ZSTD_freeDCtx(z_); }

 protected:
  std::size_t unpack(char* out, std::size_t size) override {
    ZSTD_outBuffer to{out, size, 0};
    ZSTD_inBuffer from{input(), input_size(), 0};
    const std::size_t hint = ZSTD_decompressStream(z_, &to, &from);
    used(from.pos);
    if (ZSTD_isError(hint) != 0) {
      if (ZSTD_getErrorCode(hint) == ZSTD_error_frameParameter_windowTooLarge) {
        fail("the compressed log needs more than 32 MiB of memory to unpack",
             "compress it again without --long or --ultra");
      } else {
        fail_damaged(ZSTD_getErrorName(hint));
      }
      return to.pos;
    }
    if (from.size == 0 && input_ended() && to.pos == 0) {
      if (between_) {
        done();
      } else {
        fail_cut();
      }
    }
    if (from.pos > 0 || to.pos > 0) between_ = hint == 0;
    return to.pos;
  }

 private:
  ZSTD_DCtx* z_;
  bool between_ = false;
};

}  // namespace

std::unique_ptr<ByteStream> gunzip(std::filesystem::path path, std::unique_ptr<ByteStream> from,
                                   std::uint64_t limit) {
  return std::make_unique<Gunzip>(std::move(path), std::move(from), limit);
}

std::unique_ptr<ByteStream> unzstd(std::filesystem::path path, std::unique_ptr<ByteStream> from,
                                   std::uint64_t limit) {
  return std::make_unique<Unzstd>(std::move(path), std::move(from), limit);
}

}  // namespace vacuary::log
