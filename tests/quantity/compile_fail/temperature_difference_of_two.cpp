// Two temperatures have a difference, and it is not a temperature.
#include "case.hpp"
void use() {
#ifdef BAD
  take<Temperature>(warm - warm);
#else
  take<TemperatureDifference>(warm - warm);
#endif
}
