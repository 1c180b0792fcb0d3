; Striker unit: pulls the hammers of four bells in the order of a peal, and shows on a display which peal it rings.
; The order stands in a table that is copied to memory first, so that the ringers can change it.
;
; Z80A, written for a clock of 2 MHz.

LCDCMD  EQU     10H             ; display: commands, and behind it data
LCDDATA EQU     11H
HAMMER  EQU     20H             ; bits 0 to 3 pull the hammers
BELLS   EQU     8               ; strokes of a peal

        ORG     8000H
ORDER:  DS      BELLS           ; the order of the peal, changed by the ringers
PEALS:  DS      1

        ORG     0
START:  LD      SP,9000H
        CALL    DISPON
        LD      HL,ROUNDS
        LD      DE,ORDER
        LD      BC,BELLS
        LDIR
        LD      A,3
        LD      (PEALS),A
PEAL:   LD      HL,TITLE
        CALL    SHOW
        LD      HL,ORDER
        LD      E,BELLS
STROKE: LD      A,(HL)
        OUT     (HAMMER),A
        LD      BC,3846
        CALL    PAUSE           ; timing: takes at least 50 ms
        XOR     A
        OUT     (HAMMER),A
        LD      BC,15385
        CALL    PAUSE           ; timing: takes at least 200 ms
        INC     HL
        DEC     E
        JR      NZ,STROKE
        LD      A,(PEALS)
        DEC     A
        LD      (PEALS),A
        JR      NZ,PEAL
        LD      A,1
        CALL    COMMAND
STILL:  JR      STILL           ; until the watchman starts it again

; The display: its busy flag is not read, so every byte waits.
DISPON: LD      BC,1154         ; 15 ms after power comes on
        CALL    PAUSE
        LD      A,38H           ; 8 bits, 2 lines
        OUT     (LCDCMD),A
        LD      BC,340          ; a long wait after the first
        CALL    PAUSE
        LD      A,38H
        CALL    COMMAND
        LD      A,38H
        CALL    COMMAND
        LD      A,0CH           ; display on
        CALL    COMMAND
        LD      A,6             ; writes to the right
        CALL    COMMAND
        LD      A,1             ; clears it
COMMAND:
        OUT     (LCDCMD),A
        LD      BC,180          ; longer than clearing takes
        CALL    PAUSE
        RET

PAUSE:  DEC     BC
        LD      A,B
        OR      C
        JR      NZ,PAUSE
        RET

SHOW:   LD      A,80H
        CALL    COMMAND
NEXT:   LD      A,(HL)
        OR      A
        RET     Z
        OUT     (LCDDATA),A
        LD      B,9             ; the display needs a while for each character
SETTLE: DJNZ    SETTLE          ; timing: takes at least 50 us
        INC     HL
        JR      NEXT

ROUNDS: DB      1,2,4,8,1,4,2,8
TITLE:  DB      'GRAND ROUNDS',0

        END     START
