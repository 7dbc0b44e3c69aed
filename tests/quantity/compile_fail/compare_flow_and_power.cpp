// A flow and a power cannot be compared.
#include "case.hpp"
void use() {
#ifdef BAD
  take(flow < power);
#else
  take(power < power);
#endif
}
