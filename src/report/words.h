#include "words/words.h"
