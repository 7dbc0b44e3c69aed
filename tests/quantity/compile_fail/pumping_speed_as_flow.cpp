// A pumping speed says nothing of the amount of gas.
#include "case.hpp"
void use() {
#ifdef BAD
  take<MolarFlow>(pumping_speed);
#else
  take<PumpingSpeed>(pumping_speed);
#endif
}
