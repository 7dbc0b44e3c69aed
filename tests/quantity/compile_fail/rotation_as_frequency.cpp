// Turning is an angle per time, not a frequency.
#include "case.hpp"
void use() {
#ifdef BAD
  take<Frequency>(turning);
#else
  take<AngularSpeed>(turning);
#endif
}
