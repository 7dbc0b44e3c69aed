// A power is no throughput.
#include "case.hpp"
void use() {
#ifdef BAD
  take<Throughput>(power);
#else
  take<Throughput>(throughput_of_gas);
#endif
}
