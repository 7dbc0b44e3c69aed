// Pressure times volume per time is no power, though the dimensions agree.
#include "case.hpp"
void use() {
#ifdef BAD
  take<Power>(Throughput::of(pressure, pumping_speed));
#else
  take<Throughput>(Throughput::of(pressure, pumping_speed));
#endif
}
