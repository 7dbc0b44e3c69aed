// A temperature is no difference: thermodynamic() says it aloud.
#include "case.hpp"
void use() {
#ifdef BAD
  take<TemperatureDifference>(warm);
#else
  take<TemperatureDifference>(thermodynamic(warm));
#endif
}
