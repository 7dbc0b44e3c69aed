// A throughput and a power have no sum.
#include "case.hpp"
void use() {
#ifdef BAD
  take(throughput_of_gas + power);
#else
  take(power + power);
#endif
}
