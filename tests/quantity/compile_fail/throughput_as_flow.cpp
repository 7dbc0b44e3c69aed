// Throughput becomes an amount only at a stated gas temperature.
#include "case.hpp"
void use() {
#ifdef BAD
  take<MolarFlow>(throughput_of_gas);
#else
  take<MolarFlow>(molar_flow(throughput_of_gas, warm));
#endif
}
