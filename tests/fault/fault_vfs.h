// SPDX-License-Identifier: GPL-3.0-or-later
//
// A disk that fails: an SQLite VFS around the real one, in which the n-th write, sync, truncation
// or growth of a file fails, once or from then on.
#ifndef FAULT_FAULT_VFS_H
#define FAULT_FAULT_VFS_H

#include <sqlite3.h>
#include <stdbool.h>
#include <string.h>

typedef struct {
  int countdown;  // operations until the fault; below 0: never
  bool sticky;    // every later operation fails too
  int status;     // what the disk says: SQLITE_FULL, SQLITE_IOERR_WRITE
  int operations; // counted since it was armed
  bool hit;
} FaultPlan;

// The one disk of the process; SQLite's interface leaves no other place for it.
static FaultPlan fault_plan = {.countdown = -1};

typedef struct {
  sqlite3_file base;
  sqlite3_file *real; // behind this struct
} FaultFile;

static inline bool fault_strikes(void) {
  fault_plan.operations++;
  if (fault_plan.hit)
    return fault_plan.sticky;
  if (fault_plan.countdown < 0 || fault_plan.countdown-- > 0)
    return false;
  fault_plan.hit = true;
  return true;
}

static inline sqlite3_file *real_of(sqlite3_file *file) {
  return ((FaultFile *)(void *)file)->real;
}

static int fault_close(sqlite3_file *file) {
  return real_of(file)->pMethods->xClose(real_of(file));
}
static int fault_read(sqlite3_file *file, void *bytes, int n, sqlite3_int64 at) {
  return real_of(file)->pMethods->xRead(real_of(file), bytes, n, at);
}
// A disk that is full may still take a part.
static int fault_write(sqlite3_file *file, const void *bytes, int n, sqlite3_int64 at) {
  if (!fault_strikes())
    return real_of(file)->pMethods->xWrite(real_of(file), bytes, n, at);
  if (fault_plan.status == SQLITE_FULL)
    (void)real_of(file)->pMethods->xWrite(real_of(file), bytes, n / 2, at);
  return fault_plan.status;
}
static int fault_truncate(sqlite3_file *file, sqlite3_int64 size) {
  return fault_strikes() ? SQLITE_IOERR_TRUNCATE
                         : real_of(file)->pMethods->xTruncate(real_of(file), size);
}
static int fault_sync(sqlite3_file *file, int flags) {
  return fault_strikes() ? SQLITE_IOERR_FSYNC
                         : real_of(file)->pMethods->xSync(real_of(file), flags);
}
static int fault_size(sqlite3_file *file, sqlite3_int64 *size) {
  return real_of(file)->pMethods->xFileSize(real_of(file), size);
}
static int fault_lock(sqlite3_file *file, int lock) {
  return real_of(file)->pMethods->xLock(real_of(file), lock);
}
static int fault_unlock(sqlite3_file *file, int lock) {
  return real_of(file)->pMethods->xUnlock(real_of(file), lock);
}
static int fault_check_lock(sqlite3_file *file, int *result) {
  return real_of(file)->pMethods->xCheckReservedLock(real_of(file), result);
}
static int fault_control(sqlite3_file *file, int op, void *arg) {
  return real_of(file)->pMethods->xFileControl(real_of(file), op, arg);
}
static int fault_sector_size(sqlite3_file *file) {
  return real_of(file)->pMethods->xSectorSize(real_of(file));
}
static int fault_characteristics(sqlite3_file *file) {
  return real_of(file)->pMethods->xDeviceCharacteristics(real_of(file));
}
// The -shm file is memory that is shared, not a disk.
static int fault_shm_map(sqlite3_file *file, int page, int size, int extend, void volatile **at) {
  return real_of(file)->pMethods->xShmMap(real_of(file), page, size, extend, at);
}
static int fault_shm_lock(sqlite3_file *file, int offset, int n, int flags) {
  return real_of(file)->pMethods->xShmLock(real_of(file), offset, n, flags);
}
static void fault_shm_barrier(sqlite3_file *file) {
  real_of(file)->pMethods->xShmBarrier(real_of(file));
}
static int fault_shm_unmap(sqlite3_file *file, int remove) {
  return real_of(file)->pMethods->xShmUnmap(real_of(file), remove);
}

static const sqlite3_io_methods fault_methods = {
    .iVersion = 2,
    .xClose = fault_close,
    .xRead = fault_read,
    .xWrite = fault_write,
    .xTruncate = fault_truncate,
    .xSync = fault_sync,
    .xFileSize = fault_size,
    .xLock = fault_lock,
    .xUnlock = fault_unlock,
    .xCheckReservedLock = fault_check_lock,
    .xFileControl = fault_control,
    .xSectorSize = fault_sector_size,
    .xDeviceCharacteristics = fault_characteristics,
    .xShmMap = fault_shm_map,
    .xShmLock = fault_shm_lock,
    .xShmBarrier = fault_shm_barrier,
    .xShmUnmap = fault_shm_unmap,
};

static int fault_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *file, int flags,
                      int *out_flags) {
  sqlite3_vfs *real_vfs = vfs->pAppData;
  FaultFile *fault_file = (FaultFile *)(void *)file;
  fault_file->real = (sqlite3_file *)(void *)(fault_file + 1);
  int status = real_vfs->xOpen(real_vfs, name, fault_file->real, flags, out_flags);
  fault_file->base.pMethods = fault_file->real->pMethods ? &fault_methods : NULL;
  return status;
}

// Makes the failing disk the default; everything else is the real one's.
static inline void fault_vfs_install(void) {
  static sqlite3_vfs vfs;
  sqlite3_vfs *real_vfs = sqlite3_vfs_find(NULL);
  vfs = *real_vfs;
  vfs.zName = "fault";
  vfs.szOsFile = (int)sizeof(FaultFile) + real_vfs->szOsFile;
  vfs.pAppData = real_vfs;
  vfs.pNext = NULL;
  vfs.xOpen = fault_open;
  sqlite3_vfs_register(&vfs, 1);
}

static inline void fault_arm(int countdown, bool sticky, int status) {
  fault_plan = (FaultPlan){.countdown = countdown, .sticky = sticky, .status = status};
}

static inline void fault_disarm(void) {
  fault_plan = (FaultPlan){.countdown = -1};
}

#endif
